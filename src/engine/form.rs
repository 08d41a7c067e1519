//! What a pattern asks for, in words: technicians are not to read regular expressions.
//!
//! Never in here: matching. Changes when another kind of pattern can be told.

/// A pattern in words, where it is one class of characters so many times; nothing for any other.
pub(super) fn in_words(pattern: &str) -> Option<String> {
    let body = pattern.strip_prefix('^')?.strip_suffix('$')?;
    let (class, times) = body.strip_prefix('[')?.split_once(']')?;
    Some(format!("{} of {}", count(times)?, members(class)?))
}

fn count(times: &str) -> Option<String> {
    let number = |n: &str| n.parse::<u32>().ok();
    let told = |n: u32| match n {
        1 => "1 character".to_owned(),
        n => format!("{n} characters"),
    };
    if times == "+" {
        return Some("at least 1 character".to_owned());
    }
    let inner = times.strip_prefix('{')?.strip_suffix('}')?;
    match inner.split_once(',') {
        None => number(inner).map(told),
        Some((least, "")) => number(least).map(|n| format!("at least {}", told(n))),
        Some((least, most)) => Some(format!("{} to {}", number(least)?, told(number(most)?))),
    }
}

/// The characters of a class: ranges, and each other one by itself.
fn members(class: &str) -> Option<String> {
    let all: Vec<char> = class.chars().collect();
    let mut rest = &all[..];
    let mut told = Vec::new();
    while let Some((first, after)) = rest.split_first() {
        match (first, after) {
            ('\\' | '^' | '[', _) => return None,
            (from, ['-', to, ..]) => {
                told.push(format!("{from} to {to}"));
                rest = &after[2..];
            }
            (' ', _) => {
                told.push("blank".to_owned());
                rest = after;
            }
            (one, _) => {
                told.push(format!("`{one}`"));
                rest = after;
            }
        }
    }
    (!told.is_empty()).then(|| told.join(", "))
}
