//! Plots with their key and table, and the picture of the shop.
//!
//! Never in here: what they show. Changes when a figure is put on paper otherwise.

use krilla::Data;
use krilla::image::Image;

use super::super::house::House;
use super::super::plot::Plot;
use super::super::plot::sketch::{Anchor, SAMPLE, Shape, WIDE, key, sketch};
use super::face::Face;
use super::flow::{Leaf, Order, Piece, Placed, Role, Thing};
use super::ink::Ink;
use super::line::{Look, broken, unbroken, words};
use super::setter::{BOLD, LABEL, SOFT, Setter, TEXT, stacked};

/// Height of the shop's picture, in points.
const EMBLEM: f32 = 28.0;
/// Share of the width that a drawing takes.
const DRAWN: f32 = 0.78;
/// Points for each unit of a sample.
const KEY: f32 = 0.7;

impl Setter {
    /// A plot with its words, its drawing, its key and its table.
    pub(super) fn plot(&mut self, plot: &Plot) {
        let mut said = vec![
            words(BOLD, &plot.title),
            words(TEXT, " "),
            words(TEXT, &plot.shows),
        ];
        for remark in &plot.remarks {
            said.extend([words(TEXT, " "), words(SOFT, remark)]);
        }
        let first = self.flow.pieces.len();
        let caption = self.paragraph(&said, 10.0);
        self.order.push(caption);
        let leaf = self.flow.leaf();
        let scale = self.width * DRAWN / WIDE.width as f32;
        let place = |shape: &Shape| placed(shape, (0.0, 0.0), scale, leaf);
        self.flow.pieces.push(Piece {
            before: 4.0,
            height: WIDE.height as f32 * scale + 4.0,
            keep: true,
            things: sketch(plot, WIDE).iter().map(place).collect(),
            ..Piece::default()
        });
        self.legend(plot, leaf);
        let end = self.flow.pieces.len() - 1;
        self.flow.pieces[first..end]
            .iter_mut()
            .for_each(|p| p.keep = true);
        let shows = format!("{}. {}", plot.title, plot.shows);
        self.order
            .push(Order::Branch(Role::Figure(shows), vec![Order::Leaf(leaf)]));
        if !plot.rows.is_empty() {
            let part = self.table(&plot.caption, &plot.header, &plot.rows, true);
            self.order.push(part);
        }
    }

    /// The shop that the pages come from: its picture and its name.
    pub(super) fn house(&mut self, house: &House) {
        if house.name.is_empty() && house.picture.is_none() {
            return;
        }
        let mut piece = Piece {
            height: EMBLEM + 2.0,
            ..Piece::default()
        };
        let mut x = 0.0;
        // A picture that can't be drawn leaves the name.
        let picture = house.picture.as_ref().and_then(|emblem| {
            let bytes = Data::from(emblem.bytes.clone());
            let image = match emblem.media_type {
                "image/png" => Image::from_png(bytes, false),
                _ => Image::from_jpeg(bytes, false),
            };
            let (w, h) = (emblem.width as f32, emblem.height as f32);
            Some((image.ok()?, (EMBLEM * w / h).min(self.width / 3.0)))
        });
        if let Some((image, wide)) = picture {
            let thing = Thing::Picture {
                x: 0.0,
                size: (wide, EMBLEM),
                turned: 1,
                image,
            };
            piece.things.push(Placed { leaf: None, thing });
            x = wide + 8.0;
        }
        let leaf = self.flow.leaf();
        let mut lines = broken(&[words(LABEL, &house.name)], self.width - x);
        lines.truncate(2);
        let (things, _) = stacked(&lines, x, (EMBLEM - 13.0) / 2.0, leaf);
        piece.things.extend(things);
        self.flow.pieces.push(piece);
        self.order
            .push(Order::Branch(Role::Paragraph, vec![Order::Leaf(leaf)]));
    }

    /// The key: as many samples with their words in a line as fit.
    fn legend(&mut self, plot: &Plot, leaf: Leaf) {
        let sample = SAMPLE.0 as f32 * KEY + 5.0;
        let mut at = self.width;
        for (shapes, text) in key(plot) {
            let mut lines = vec![unbroken(&[words(LABEL, &text)])];
            if lines[0].width > self.width - sample {
                lines = broken(&[words(LABEL, &text)], self.width - sample);
            }
            let wide = sample + lines.iter().map(|l| l.width).fold(0.0, f32::max);
            if at + wide > self.width {
                self.flow.pieces.push(Piece::default());
                at = 0.0;
            }
            let piece = self.flow.pieces.last_mut().expect("a line of the key");
            let (things, height) = stacked(&lines, at + sample, 0.0, leaf);
            piece.height = piece.height.max(height);
            let draw = |shape: &Shape| placed(shape, (at, 1.8), KEY, leaf);
            piece.things.extend(shapes.iter().map(draw));
            piece.things.extend(things);
            at += wide + 16.0;
        }
    }
}

/// A shape of a drawing at its place on paper.
fn placed(shape: &Shape, (x, y): (f32, f32), scale: f32, leaf: Leaf) -> Placed {
    let thing = match shape {
        Shape::Path(path) => Thing::Path {
            x,
            y,
            scale,
            path: path.clone(),
            ink: Ink::Black,
        },
        Shape::Words(said) => {
            let look = Look::new(Face::Regular, WIDE.font as f32 * scale, Ink::Black);
            let line = unbroken(&[words(look, &said.text)]);
            let back = match said.anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => line.width / 2.0,
                Anchor::End => line.width,
            };
            Thing::Line {
                x: x + said.at.0 as f32 * scale - back,
                y: y + said.at.1 as f32 * scale,
                line,
            }
        }
    };
    Placed {
        leaf: Some(leaf),
        thing,
    }
}
