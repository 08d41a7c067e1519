//! Photographs with their captions: one in the whole width, several two abreast.
//!
//! Never in here: which pictures are shown. Changes when photographs are put on paper otherwise.

use krilla::Data;
use krilla::image::Image;

use super::super::picture::{Kind, Picture};
use super::super::words::say;
use super::flow::{Order, Piece, Placed, Role, Thing};
use super::line::{broken, words};
use super::setter::{SOFT, Setter, TEXT, stacked};

/// Height that no photograph passes, in points.
const TALLEST: f32 = 300.0;
/// Room between two photographs.
const GAP: f32 = 14.0;

impl Setter {
    /// Photographs that follow one another.
    pub(super) fn photographs(&mut self, pictures: &[&Picture]) {
        let shown: Vec<(&Picture, Image)> = pictures
            .iter()
            .filter_map(|p| Some((*p, self.image(p)?)))
            .collect();
        let abreast = shown.len().clamp(1, 2);
        for row in shown.chunks(abreast) {
            self.row_of(row, abreast);
        }
    }

    /// A photograph as it is drawn; where its bytes are no picture after all its caption is told with the reason.
    fn image(&mut self, picture: &Picture) -> Option<Image> {
        let bytes = Data::from(picture.bytes.clone());
        let image = match picture.kind {
            _ if picture.inks => Err(say!(
                "not shown here, but attached: its colours are those of printing inks (CMYK)"
            )),
            Kind::Png => Image::from_png(bytes, false),
            Kind::Jpeg => Image::from_jpeg(bytes, false),
        };
        let why = match image {
            Ok(image) => return Some(image),
            Err(why) => why,
        };
        let said = format!("{}: {why}", picture.caption);
        let part = self.paragraph(&[words(TEXT, &said)], 6.0);
        self.order.push(part);
        None
    }

    fn row_of(&mut self, row: &[(&Picture, Image)], abreast: usize) {
        let count = abreast as f32;
        let column = (self.width - GAP * (count - 1.0)) / count;
        let fits = |picture: &Picture| {
            let [w, h] = picture.size.map(|v| v as f32);
            let scale = (column / w).min(TALLEST / count.sqrt() / h).min(1.0);
            (w * scale, h * scale)
        };
        let heights = row.iter().map(|(picture, _)| fits(picture).1);
        let mut piece = Piece {
            before: 8.0,
            pictured: heights.fold(f32::INFINITY, f32::min),
            ..Piece::default()
        };
        for (n, (picture, image)) in row.iter().enumerate() {
            let x = n as f32 * (column + GAP);
            let (shown, caption) = (self.flow.leaf(), self.flow.leaf());
            let size = fits(picture);
            let thing = Thing::Picture {
                x,
                size,
                turned: picture.turned,
                image: image.clone(),
            };
            let leaf = Some(shown);
            piece.things.push(Placed { leaf, thing });
            let lines = broken(&[words(SOFT, &picture.caption)], column);
            let (things, height) = stacked(&lines, x, size.1 + 2.0, caption);
            piece.things.extend(things);
            piece.height = piece.height.max(size.1 + height + 4.0);
            let one = |role, leaf| Order::Branch(role, vec![Order::Leaf(leaf)]);
            self.order
                .push(one(Role::Figure(picture.caption.clone()), shown));
            self.order.push(one(Role::Paragraph, caption));
        }
        self.flow.pieces.push(piece);
    }
}
