//! What a YAML text says, in order, with where its parts stand: enough to compare two layouts of it.
//!
//! Never in here: changing texts. Changes when the parser tells more.

use saphyr_parser::{Event, Parser, ScalarStyle};

/// A block collection: mapping or list without brackets.
#[derive(Clone, Debug)]
pub struct Block {
    /// Its first byte.
    pub start: usize,
    /// The first byte behind it.
    pub end: usize,
    /// How far it is indented.
    pub column: usize,
    /// How far it is to be indented.
    pub wanted: usize,
    /// Whether it is a list.
    pub list: bool,
}

/// What a text says.
#[derive(Debug, Default)]
pub struct Said {
    /// Its events as text, styles and anchors included.
    pub events: Vec<String>,
    /// The places of its scalars: bytes from, to, and whether it is a block scalar.
    pub scalars: Vec<(usize, usize, bool)>,
    /// The block collections, by their starts.
    pub blocks: Vec<Block>,
    /// The flow collections that stand in no other: bytes from, to.
    pub flows: Vec<(usize, usize)>,
    /// The lists that are values of the top mapping: the key, and where their items begin.
    lists: Vec<(String, Vec<usize>)>,
}

/// A collection that is open.
struct Open {
    /// Its block, if it is one.
    block: Option<usize>,
    list: bool,
    /// Parts that were read.
    parts: usize,
    key: String,
    start: usize,
}

impl Said {
    /// Whether a byte lies inside a scalar of more than one line, so that blanks there may be part of it.
    pub fn is_inside(&self, byte: usize) -> bool {
        let after = self.scalars.partition_point(|(start, _, _)| *start < byte);
        after
            .checked_sub(1)
            .is_some_and(|at| byte < self.scalars[at].1)
    }

    /// The comments of the text, in order.
    pub fn comments<'t>(&self, text: &'t str) -> Vec<&'t str> {
        let mut comments = Vec::new();
        let (mut at, mut scalars) = (0, self.scalars.iter().peekable());
        while at < text.len() {
            if let Some((_, end, _)) = scalars.next_if(|(start, _, _)| *start <= at) {
                at = at.max(*end);
                continue;
            }
            let begins = at == 0 || text.as_bytes()[at - 1].is_ascii_whitespace();
            if text.as_bytes()[at] == b'#' && begins {
                let line = text[at..].split('\n').next().unwrap_or_default();
                comments.push(line.trim_end());
                at += line.len();
            } else {
                at += 1;
            }
        }
        comments
    }

    /// Where the items of the lists of these names at the top begin.
    pub fn items_of(&self, names: &[&str]) -> impl Iterator<Item = &[usize]> {
        let named = |(name, _): &&(String, Vec<usize>)| names.contains(&name.as_str());
        let names: Vec<_> = self.lists.iter().filter(named).collect();
        names.into_iter().map(|(_, items)| items.as_slice())
    }
}

/// Reads what a text says; nothing where it is no YAML.
pub fn said(text: &str) -> Option<Said> {
    let bytes: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
    let byte = |index: usize| bytes.get(index).copied().unwrap_or(text.len());
    let mut reader = Reader {
        text,
        behind: 0,
        said: Said::default(),
        open: Vec::new(),
    };
    for event in Parser::new_from_str(text) {
        let (event, span) = event.ok()?;
        let (start, end) = (byte(span.start.index()), byte(span.end.index()));
        reader.said.events.push(format!("{event:?}"));
        reader.on_event(&event, start, end, span.start.col());
    }
    Some(reader.said)
}

struct Reader<'t> {
    text: &'t str,
    /// The first byte behind the last scalar.
    behind: usize,
    said: Said,
    open: Vec<Open>,
}

impl Reader<'_> {
    fn on_event(&mut self, event: &Event<'_>, start: usize, end: usize, column: usize) {
        match event {
            Event::Scalar(text, style, ..) => {
                self.part(start, text);
                self.behind = end;
                // A scalar of no characters takes no place.
                if end > start {
                    let block = matches!(style, ScalarStyle::Literal | ScalarStyle::Folded);
                    let (start, end) = match block {
                        true => (self.end_of_header(start), self.end_of_lines(end)),
                        false => (start, end),
                    };
                    self.said.scalars.push((start, end, block));
                }
            }
            Event::Alias(_) => self.part(start, ""),
            Event::SequenceStart(..) | Event::MappingStart(..) => {
                let list = matches!(event, Event::SequenceStart(..));
                let wanted = self.wanted();
                self.part(start, "");
                let in_flow = self.open.last().is_some_and(|o| o.block.is_none());
                let dash = self.dash_before(list, start);
                let begins = self.text[start..].starts_with(['{', '[']);
                let is_flow = in_flow || (begins && dash.is_none());
                let block = (!is_flow).then_some(self.said.blocks.len());
                if !is_flow {
                    let (start, column) = dash.unwrap_or((start, column));
                    self.said.blocks.push(Block {
                        start,
                        end: self.text.len(),
                        column,
                        wanted,
                        list,
                    });
                }
                self.open.push(Open {
                    block,
                    list,
                    parts: 0,
                    key: String::new(),
                    start,
                });
            }
            Event::SequenceEnd | Event::MappingEnd => {
                let Some(closed) = self.open.pop() else {
                    return;
                };
                match closed.block {
                    Some(block) => self.said.blocks[block].end = start,
                    None if self.open.last().is_none_or(|o| o.block.is_some()) => {
                        self.said.flows.push((closed.start, end));
                    }
                    None => {}
                }
            }
            _ => {}
        }
    }

    /// The end of the line that announces a block scalar, of which the first words stand at a byte.
    fn end_of_header(&self, start: usize) -> usize {
        self.text[..start].trim_end_matches([' ', '\n']).len()
    }

    /// The end of a block scalar's last line: the parser counts the indent of the next one in.
    fn end_of_lines(&self, end: usize) -> usize {
        self.text[..end].trim_end_matches(' ').len()
    }

    /// The first dash of a list that stands no deeper than its key, with its column: the parser tells where the first item
    /// begins instead.
    fn dash_before(&self, list: bool, start: usize) -> Option<(usize, usize)> {
        let around = self.open.last().filter(|o| list && !o.list)?;
        let key_column = self.said.blocks[around.block?].column;
        // Between the key and its first item there are blanks, comments and dashes.
        let mut line = self.behind + self.text.get(self.behind..start)?.find('\n')? + 1;
        loop {
            let rest = &self.text[line..];
            let column = rest.len() - rest.trim_start_matches(' ').len();
            if rest[column..].starts_with('-') {
                return (column == key_column).then_some((line + column, column));
            }
            line += self.text[line..start].find('\n')? + 1;
        }
    }

    /// How far a block collection that begins now is to be indented.
    fn wanted(&self) -> usize {
        let around = self.open.last().and_then(|o| o.block);
        around.map_or(0, |block| self.said.blocks[block].wanted + 2)
    }

    /// Counts a key, value or item.
    fn part(&mut self, start: usize, text: &str) {
        let depth = self.open.len();
        let top_key = match &self.open[..] {
            [top, list] if !top.list && list.list => Some(top.key.clone()),
            _ => None,
        };
        if let (2, Some(key), Some(list)) = (depth, top_key, self.open.last())
            && list.block.is_some()
        {
            match self
                .said
                .lists
                .last_mut()
                .filter(|(known, _)| *known == key)
            {
                Some((_, items)) => items.push(start),
                None => self.said.lists.push((key, vec![start])),
            }
        }
        if let Some(around) = self.open.last_mut() {
            if !around.list && around.parts % 2 == 0 {
                text.clone_into(&mut around.key);
            }
            around.parts += 1;
        }
    }
}
