//! The words of sentences: which ones turn a sense, which are each other's opposites, which are little words.
//!
//! English alone; of a sentence in another language numbers and units are seen all the same. Never in here: sentences.
//! Changes when a word is sorted otherwise.

use std::sync::OnceLock;

use foldhash::{HashMap, HashSet};

/// What a word is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sort {
    /// It changes nothing: `the`, `of`.
    Little,
    /// It tells an order of steps.
    Order,
    /// A name: `A`, `VP-1`.
    Code,
    /// It denies what comes next.
    Denial,
    /// It turns the sense, by a key that its synonyms share.
    Turning(String),
    /// Any other word, without its ending.
    Content(String),
}

const LITTLE: &str = "a an the this that these those there here it its which who is are was were be been being am do does did \
    has have had will would of to and for by with from at as into onto your you please now also so when where if again than put keep while";

const MODAL: &str = "must shall should may might can could will would";

const DENIALS: &str = "not no never without cannot none nor neither nothing";

/// Words that turn a sense wherever they come or go; those in brackets say the same.
const TURNING: &str = "above over below under (more greater higher) (less fewer) least most (minimum min) (maximum max) \
    (exceed exceeds exceeded exceeding) within outside beyond between until before after (all every each) some any \
    both either only half unless except hardly barely fail (lack lacks lacking) absent missing avoid skip or larger smaller \
    longer shorter faster slower earlier later off open (close closed shut) < > ≤ ≥ ± = - +";

/// Words that tell an order of steps, besides turning a sense.
const OF_ORDER: [&str; 3] = ["before", "after", "until"];

/// Words of one line can't stand for each other; those in brackets can.
const OPPOSITES: &str = "on off
up down
in out
left right
top bottom
upper lower
front (back rear)
full empty
(tight firm firmly) (loose loosely)
dry (wet moist)
(loud audible) (quiet silent mute)
(warm hot) (cool cold)
(start begin run running go continue) (stop stand end pause halt)
(raise sound give ring) (silence mute)
hold (leak leaking)
highest lowest
wear remove
inflow outflow
fit (take remove)
(water saline glucose oil) (air gas)
water saline glucose oil
distilled tap
patient (drain bag)
insert remove
enable disable
(attach fit connect) (detach remove)
fill (empty drain)
raise lower
(increase rise) (decrease reduce fall drop)
clockwise (anticlockwise counterclockwise)
positive negative
mains battery
(intact whole) (broken break damage crack torn)
present absent
pass fail
fast slow
low medium high
long short
(high tall) low
(large big) small
wide narrow
thick thin
heavy light
clean dirty
new (old used worn)
first second third fourth last
red black green blue yellow white grey orange brown
horizontal vertical
inside outside
always never sometimes
same different
(push press) pull
(press hold) release
add remove
upstream downstream
(inlet input) (outlet output)
manual automatic
near far
true false
yes no
(right correct) wrong
(must shall) (may might can) should optional
once twice thrice
second minute hour day week month year
pressure (flow rate) volume (mass weight) (time duration) temperature current voltage (height level) length distance
earth neutral live";

const NUMBERS: [&str; 21] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
];

const TENS: [(&str, &str); 8] = [
    ("thirty", "30"),
    ("forty", "40"),
    ("fifty", "50"),
    ("sixty", "60"),
    ("seventy", "70"),
    ("eighty", "80"),
    ("ninety", "90"),
    ("hundred", "100"),
];

const PREFIXES: [&str; 9] = ["un", "in", "im", "dis", "non", "ir", "il", "mis", "de"];

/// The words of a sentence, denials that are drawn together taken apart.
pub fn words(text: &str) -> Vec<String> {
    let text = text.replace('’', "'");
    let mut words = Vec::new();
    for word in text.split_whitespace() {
        let edge = |c: char| {
            !c.is_alphanumeric()
                && !matches!(
                    c,
                    '%' | '°' | '<' | '>' | '≤' | '≥' | '±' | '=' | '+' | '-' | '{' | '}'
                )
        };
        let word = word.trim_matches(edge).trim_end_matches('-');
        let lower = word.to_lowercase();
        let parted = match lower.as_str() {
            "cannot" => Some("can"),
            "can't" => Some("can"),
            "won't" => Some("will"),
            other => other.strip_suffix("n't"),
        };
        match parted {
            Some(verb) => words.extend([verb.to_owned(), "not".to_owned()]),
            None if word.is_empty() => {}
            None if word.starts_with(|c: char| c.is_alphabetic())
                && !word.contains(|c: char| c.is_ascii_digit() || c == '/') =>
            {
                words.extend(word.split('-').filter(|w| !w.is_empty()).map(str::to_owned));
            }
            None => words.push(word.to_owned()),
        }
    }
    words
}

/// The digits of a number, which may be written as a word.
pub fn number(word: &str) -> Option<String> {
    let lower = word.to_lowercase();
    if let Some(n) = NUMBERS.iter().position(|w| *w == lower) {
        return Some(n.to_string());
    }
    if let Some((_, digits)) = TENS.iter().find(|(w, _)| *w == lower) {
        return Some((*digits).to_owned());
    }
    let first = word
        .trim_start_matches(['-', '+', '±', '<', '>', '≤', '≥', '='])
        .chars()
        .next()?;
    first.is_ascii_digit().then(|| word.to_owned())
}

/// A unit as it is written after a number.
pub fn unit(word: &str) -> &str {
    match word.to_lowercase().as_str() {
        "second" | "seconds" | "sec" => "s",
        "minute" | "minutes" | "mins" => "min",
        "hour" | "hours" => "h",
        _ => word,
    }
}

/// What a word is; whether it is the first of its sentence.
pub fn sort(word: &str, first: bool) -> Sort {
    let lower = word.to_lowercase();
    let single = word.chars().count() == 1 && word.chars().all(char::is_uppercase);
    let has_digit = word.contains(|c: char| c.is_ascii_digit());
    if has_digit || single && !(first && matches!(word, "A" | "I")) {
        return Sort::Code;
    }
    if word.starts_with('{') || lower == "then" {
        return if lower == "then" {
            Sort::Order
        } else {
            Sort::Code
        };
    }
    if is_in(LITTLE, &lower) {
        return Sort::Little;
    }
    if is_in(DENIALS, &lower) {
        return Sort::Denial;
    }
    match turning(&lower) {
        Some(key) => Sort::Turning(key),
        None => Sort::Content(stem(&lower)),
    }
}

/// Whether a word says something by itself: `in` and `must` do not.
pub fn says_something(word: &str) -> bool {
    word.chars().count() > 2 && !is_in(MODAL, word)
}

/// Whether a word that turns a sense tells an order of steps.
pub fn is_of_order(key: &str) -> bool {
    OF_ORDER.contains(&key)
}

/// Whether two words, without their endings, can't stand for each other.
pub fn are_opposites(a: &str, b: &str) -> bool {
    static LINES: OnceLock<Vec<HashMap<String, usize>>> = OnceLock::new();
    let lines = LINES.get_or_init(|| {
        OPPOSITES
            .lines()
            .map(|line| by_stem(&classes(line)))
            .collect()
    });
    let denied = |a: &str, b: &str| PREFIXES.iter().any(|p| b.strip_prefix(p) == Some(a));
    let on_line = |line: &HashMap<String, usize>| match (line.get(a), line.get(b)) {
        (Some(x), Some(y)) => x != y,
        _ => false,
    };
    denied(a, b) || denied(b, a) || lines.iter().any(on_line)
}

/// The number of the first class that has a word of each stem.
fn by_stem(classes: &[Vec<&str>]) -> HashMap<String, usize> {
    let mut all = HashMap::default();
    for (number, class) in classes.iter().enumerate() {
        for word in class {
            all.entry(stem(word)).or_insert(number);
        }
    }
    all
}

fn is_in(list: &'static str, word: &str) -> bool {
    static LISTS: OnceLock<HashMap<&'static str, HashSet<&'static str>>> = OnceLock::new();
    let lists = LISTS.get_or_init(|| {
        let words = |list: &'static str| (list, list.split_whitespace().collect());
        [LITTLE, DENIALS, MODAL].into_iter().map(words).collect()
    });
    lists.get(list).is_some_and(|words| words.contains(word))
}

fn turning(word: &str) -> Option<String> {
    static CLASSES: OnceLock<Vec<Vec<&'static str>>> = OnceLock::new();
    static STEMS: OnceLock<HashMap<String, usize>> = OnceLock::new();
    let all = CLASSES.get_or_init(|| classes(TURNING));
    let stems = STEMS.get_or_init(|| by_stem(all));
    // A word has the stem of itself.
    let found = stems.get(&stem(word))?;
    Some(all[*found][0].to_owned())
}

/// Words with blanks between them, those in brackets together.
fn classes(line: &str) -> Vec<Vec<&str>> {
    let mut all: Vec<Vec<&str>> = Vec::new();
    let mut open = false;
    for word in line.split_whitespace() {
        let name = word.trim_matches(['(', ')']);
        match (open, all.last_mut()) {
            (true, Some(last)) => last.push(name),
            _ => all.push(vec![name]),
        }
        open = (open || word.starts_with('(')) && !word.ends_with(')');
    }
    all
}

/// A word without its ending, roughly: `stops`, `stopped` and `stopping` are one.
fn stem(word: &str) -> String {
    let cut = ["ing", "ed", "es", "s"].iter().find_map(|end| {
        let rest = word.strip_suffix(end)?;
        (rest.chars().count() >= 3 && !rest.ends_with('s')).then_some(rest)
    });
    let mut stem = cut.unwrap_or(word).trim_end_matches('e').to_owned();
    let mut last = stem.chars().rev();
    if let (Some(a), Some(b)) = (last.next(), last.next())
        && a == b
        && cut.is_some()
        && !matches!(a, 'l' | 's')
    {
        stem.pop();
    }
    if stem.is_empty() {
        word.to_owned()
    } else {
        stem
    }
}
