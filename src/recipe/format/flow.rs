//! Blanks in flow collections: none inside of brackets, one behind a comma and a colon.
//!
//! Collections with comments, anchors or ends of lines in them keep their blanks there. Never in here: indents. Changes when
//! flow collections are evened otherwise.

use super::said::Said;

/// Evens the blanks of all flow collections of a text.
pub fn flow(text: &str, said: &Said) -> String {
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    let mut scalars = said.scalars.iter().peekable();
    for (start, end) in &said.flows {
        out.push_str(&text[at..*start]);
        at = *start;
        while scalars
            .next_if(|(_, scalar_end, _)| *scalar_end <= at)
            .is_some()
        {}
        while let Some((from, to, _)) = scalars.next_if(|(from, ..)| from < end) {
            gap(&text[at..*from], false, &mut out);
            out.push_str(&text[*from..*to]);
            at = *to;
        }
        gap(&text[at..*end], true, &mut out);
        at = *end;
    }
    out.push_str(&text[at..]);
    out
}

/// What stands between two scalars of a flow collection, or before its end.
fn gap(text: &str, last: bool, out: &mut String) {
    let even = |c: char| matches!(c, '{' | '}' | '[' | ']' | ',' | ':' | ' ');
    if !text.chars().all(even) {
        out.push_str(text);
        return;
    }
    let signs: Vec<char> = text.chars().filter(|c| *c != ' ').collect();
    for (at, sign) in signs.iter().enumerate() {
        out.push(*sign);
        let closes = signs
            .get(at + 1)
            .map_or(last, |next| matches!(next, '}' | ']' | ',' | ':'));
        if matches!(sign, ',' | ':') && !closes {
            out.push(' ');
        }
    }
}
