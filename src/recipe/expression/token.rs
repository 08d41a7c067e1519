//! A look over the text before evalexpr sees it: words with their places, and what its grammar takes but ours does not.
//!
//! Never in here: structure. Changes when a refusal by spelling is added.

use crate::quantity::{DecimalError, check_decimal_text};
use crate::text::Code;

use super::LoweringError;

/// Longest expression, in characters.
const MAX_LENGTH: usize = 4_000;
/// Deepest nesting of parentheses and signs.
const MAX_DEPTH: usize = 64;
/// Most operators: evalexpr's tree grows deeper with each.
const MAX_OPERATORS: usize = 200;
/// Most significant digits of a bare number.
const MAX_DIGITS: usize = 15;
const EQUALITY: &str =
    "an expression only says what must be true: write `==` for equality, `<=` and `>=` for limits";

/// What sort of word a token is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    Name,
    Number,
    Text,
}

/// A word of the text with its bytes.
#[derive(Clone, Copy, Debug)]
pub struct Token {
    pub sort: Sort,
    pub start: usize,
    pub end: usize,
}

/// Finds the words, and refuses what can be refused by spelling alone.
pub fn scan(text: &str) -> Result<Vec<Token>, LoweringError> {
    let fail = |code, start, end, message: String, help: &str| LoweringError {
        code,
        start,
        end,
        message,
        help: help.to_owned(),
    };
    if text.chars().count() > MAX_LENGTH {
        let message = format!("the expression is longer than {MAX_LENGTH} characters");
        return Err(fail(
            Code::ExpressionTooLarge,
            0,
            text.len(),
            message,
            "split it into `compute` steps",
        ));
    }
    let bytes = text.as_bytes();
    let mut tokens = Vec::new();
    let mut operators = 0usize;
    let (mut at, mut signs) = (0, 0usize);
    let mut open: Vec<usize> = Vec::new();
    // The value that the next one would follow without an operator.
    let mut before: Option<Token> = None;
    while at < bytes.len() {
        let start = at;
        let byte = bytes[at];
        at += 1;
        if byte.is_ascii_whitespace() {
            continue;
        }
        if let Some(value) = before.take() {
            no_operator_between(text, value, start)?;
        }
        signs = if matches!(byte, b'-' | b'!') {
            signs + 1
        } else {
            0
        };
        match byte {
            b'"' => {
                at = end_of_text(bytes, at).ok_or_else(|| {
                    fail(
                        Code::ExpressionSyntax,
                        start,
                        text.len(),
                        "a quotation mark that is not closed".to_owned(),
                        "close it with `\"`",
                    )
                })?;
                tokens.push(Token {
                    sort: Sort::Text,
                    start,
                    end: at,
                });
            }
            b'0'..=b'9' => {
                at = end_of_number(bytes, start);
                check_number(text, start, at)?;
                tokens.push(Token {
                    sort: Sort::Number,
                    start,
                    end: at,
                });
            }
            b'a'..=b'z' | b'A'..=b'Z' | b'_' => {
                at += bytes[at..]
                    .iter()
                    .take_while(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'.'))
                    .count();
                check_word(&text[start..at], start)?;
                tokens.push(Token {
                    sort: Sort::Name,
                    start,
                    end: at,
                });
            }
            b'(' => open.push(start),
            b')' => {
                if open.pop().is_none() {
                    let message = "a parenthesis that closes nothing".to_owned();
                    let help = "remove it, or open it with `(`";
                    return Err(fail(Code::ExpressionSyntax, start, at, message, help));
                }
            }
            b'=' | b'<' | b'>' | b'!'
                if bytes.get(at) == Some(&b'=') && bytes.get(at + 1) != Some(&b'=') =>
            {
                at += 1
            }
            b'=' => {
                let (end, help) = match bytes.get(at) {
                    Some(b'>') => (at + 1, "write `>=`"),
                    Some(b'<') => (at + 1, "write `<=`"),
                    _ => (at, EQUALITY),
                };
                let message = "`=` would assign a value".to_owned();
                return Err(fail(Code::Assignment, start, end, message, help));
            }
            b'&' | b'|'
                if !bytes
                    .get(at)
                    .is_some_and(|b| matches!(*b, b'=') || *b == byte) =>
            {
                let sign = char::from(byte);
                let message = format!("`{sign}` by itself has no meaning in an expression");
                let help = format!("write `{sign}{sign}`");
                return Err(fail(Code::ExpressionSyntax, start, at, message, &help));
            }
            b',' if open.is_empty() && is_inside_number(bytes, start) => {
                let (from, to) = number_around(bytes, start);
                let message = format!("`{}` is not a number", &text[from..to]);
                let help = "recipes always use the decimal point; a quantity stands in double quotes: `\"3.5 mL\"`";
                return Err(fail(Code::ExpressionSyntax, from, to, message, help));
            }
            b'+' | b'-' | b'*' | b'/' | b'^' | b'&' | b'|' if bytes.get(at) == Some(&b'=') => {
                let message = format!("`{}` would assign a value", &text[start..=at]);
                return Err(fail(
                    Code::Assignment,
                    start,
                    at + 1,
                    message,
                    "nothing can be assigned in an expression",
                ));
            }
            b'/' if matches!(bytes.get(at), Some(b'/' | b'*')) => {
                return Err(fail(
                    Code::ExpressionSyntax,
                    start,
                    at + 1,
                    "a comment inside an expression".to_owned(),
                    "put comments behind `#` in the YAML",
                ));
            }
            b'+' | b'-' | b'*' | b'/' | b'^' | b',' | b'<' | b'>' | b'!' => {}
            b'&' | b'|' if bytes.get(at) == Some(&byte) => at += 1,
            b';' => {
                let message = "`;` puts several expressions in a row".to_owned();
                return Err(fail(
                    Code::Sequence,
                    start,
                    at,
                    message,
                    "write one expression; join criteria with `&&` or as a list",
                ));
            }
            b'%' => {
                let message = "`%` is not an operator here".to_owned();
                return Err(fail(
                    Code::PercentOperator,
                    start,
                    at,
                    message,
                    "write a percentage as a quantity in quotes: `\"5 %\"`",
                ));
            }
            _ => {
                let end = start + text[start..].chars().next().map_or(1, char::len_utf8);
                let sign = &text[start..end];
                let message = format!("`{sign}` has no meaning in an expression");
                let help = match sign {
                    "≤" => "write `<=`",
                    "≥" => "write `>=`",
                    "≠" => "write `!=`",
                    "×" | "·" => "write `*`",
                    "÷" => "write `/`",
                    "−" | "–" => "write `-`",
                    "“" | "”" | "„" | "«" | "»" => {
                        "write straight double quotes: `\"5 mL\"`"
                    }
                    _ => "quantities and texts stand in double quotes",
                };
                return Err(fail(Code::ExpressionSyntax, start, end, message, help));
            }
        }
        operators += usize::from(matches!(
            byte,
            b'+' | b'-' | b'*' | b'/' | b'^' | b'<' | b'>' | b'=' | b'!' | b'&' | b'|'
        ));
        if operators > MAX_OPERATORS {
            let message = format!("the expression has more than {MAX_OPERATORS} operators");
            return Err(fail(
                Code::ExpressionTooLarge,
                start,
                at,
                message,
                "split it into `compute` steps, or use `sum`",
            ));
        }
        before = match byte {
            b')' => Some(Token {
                sort: Sort::Number,
                start,
                end: at,
            }),
            b'"' | b'0'..=b'9' | b'a'..=b'z' | b'A'..=b'Z' | b'_' => tokens.last().copied(),
            _ => None,
        };
        if open.len() > MAX_DEPTH || signs > MAX_DEPTH {
            let message = format!("the expression is nested deeper than {MAX_DEPTH}");
            return Err(fail(
                Code::ExpressionTooLarge,
                start,
                at,
                message,
                "split it into `compute` steps",
            ));
        }
    }
    if let Some(start) = open.pop() {
        let message = "a parenthesis that is not closed".to_owned();
        let help = "close it with `)` where its contents end";
        return Err(fail(
            Code::ExpressionSyntax,
            start,
            start + 1,
            message,
            help,
        ));
    }
    Ok(tokens)
}

/// Refuses a value right behind another one. A name before a value is a call without parentheses, which is said elsewhere.
fn no_operator_between(text: &str, value: Token, start: usize) -> Result<(), LoweringError> {
    let inside = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
    let next = &text[start..];
    let is_value =
        next.starts_with(|c: char| c.is_ascii_alphanumeric() || matches!(c, '"' | '_' | '('));
    if !is_value || value.sort == Sort::Name {
        return Ok(());
    }
    let word: String = next.chars().take_while(|c| inside(*c)).collect();
    // What is wrong with a word of its own is said when it is read.
    check_word(&word, start)?;
    let end = start + word.len().max(1);
    let both = (&text[value.start..value.end], &text[start..end]);
    let help = if value.sort == Sort::Number && next.starts_with(|c: char| c.is_ascii_alphabetic())
    {
        format!(
            "a quantity stands in double quotes: `\"{} {}\"`",
            both.0, both.1
        )
    } else {
        "put an operator or a comma between them".to_owned()
    };
    Err(LoweringError {
        code: Code::ExpressionSyntax,
        start: value.start,
        end,
        message: format!("no operator between `{}` and `{}`", both.0, both.1),
        help,
    })
}

/// Whether a comma stands right between two digits.
fn is_inside_number(bytes: &[u8], comma: usize) -> bool {
    let digit = |at: Option<usize>| {
        at.and_then(|at| bytes.get(at))
            .is_some_and(u8::is_ascii_digit)
    };
    digit(comma.checked_sub(1)) && digit(comma.checked_add(1))
}

/// The digits on both sides of a comma.
fn number_around(bytes: &[u8], comma: usize) -> (usize, usize) {
    let digits = |b: &&u8| b.is_ascii_digit() || **b == b'.';
    let before = bytes[..comma].iter().rev().take_while(digits).count();
    let behind = bytes[comma + 1..].iter().take_while(digits).count();
    (comma - before, comma + 1 + behind)
}

fn end_of_text(bytes: &[u8], mut at: usize) -> Option<usize> {
    loop {
        match bytes.get(at)? {
            b'"' => return Some(at + 1),
            b'\\' => at += 2,
            _ => at += 1,
        }
    }
}

fn end_of_number(bytes: &[u8], start: usize) -> usize {
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|b| b.is_ascii_digit() || **b == b'.')
            .count()
    };
    let mut end = start + digits(start);
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = bytes
            .get(end + 1 + sign..)
            .map_or(0, |b| b.iter().take_while(|b| b.is_ascii_digit()).count());
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    // A unit that follows without a blank belongs to the word, so that it can be said what is wrong with it.
    end + bytes[end..]
        .iter()
        .take_while(|b| b.is_ascii_alphanumeric() || matches!(b, b'_'))
        .count()
}

fn check_number(text: &str, start: usize, end: usize) -> Result<(), LoweringError> {
    let word = &text[start..end];
    let fail = |code, message, help: &str| {
        Err(LoweringError {
            code,
            start,
            end,
            message,
            help: help.to_owned(),
        })
    };
    match check_decimal_text(word) {
        Err(DecimalError::ExponentTooLarge) => {
            return fail(
                Code::NotFinite,
                format!("`{word}` is beyond the numbers that are kept"),
                "write a number with an exponent up to 30",
            );
        }
        Err(_) => {
            let help =
                "a quantity stands in double quotes, with a blank before its unit: `\"5 mL\"`";
            return fail(
                Code::ExpressionSyntax,
                format!("`{word}` is not a number"),
                help,
            );
        }
        Ok(()) => {}
    }
    let mantissa = word.split(['e', 'E']).next().unwrap_or(word);
    let digits: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    if digits.trim_start_matches('0').len() > MAX_DIGITS {
        let message = format!("`{word}` has more than {MAX_DIGITS} significant digits");
        return fail(
            Code::TooManyDigits,
            message,
            "round it, or write it as a quantity in quotes",
        );
    }
    Ok(())
}

fn check_word(word: &str, start: usize) -> Result<(), LoweringError> {
    let end = start + word.len();
    let fail = |code, message: String, help: &str| {
        Err(LoweringError {
            code,
            start,
            end,
            message,
            help: help.to_owned(),
        })
    };
    match word.to_ascii_lowercase().as_str() {
        "inf" | "infinity" | "nan" => fail(
            Code::NotFinite,
            format!("`{word}` is not a finite number"),
            "write the limit as a number, or leave it out",
        ),
        "and" => fail(
            Code::ExpressionSyntax,
            "`and` is not an operator".to_owned(),
            "write `&&`",
        ),
        "or" => fail(
            Code::ExpressionSyntax,
            "`or` is not an operator".to_owned(),
            "write `||`",
        ),
        "not" => fail(
            Code::ExpressionSyntax,
            "`not` is not an operator".to_owned(),
            "write `!`",
        ),
        _ => Ok(()),
    }
}
