//! JSON text into its canonical form (RFC 8785), in one pass and without a tree.
//!
//! Texts, truths and small whole numbers are written here: keys in order, no blanks, texts escaped as serde_json does. The
//! library, which forms each level anew, took two thirds of the time of verifying a record; other numbers are left to it.
//! Never in here: digests. Changes never: old records rest on it.

use std::borrow::Cow;
use std::fmt;

use serde::de::{self, DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};

/// Whole numbers up to this size are written alike by every rule (RFC 8785, 3.2.2.3: numbers are IEEE 754 doubles).
const WHOLE: u64 = 1 << 53;

/// The canonical form of a JSON text; a member of the outermost object named `without` is left out.
///
/// # Errors
/// Text that is not JSON, an object with a key twice, numbers that the form can't hold.
pub fn canonical_text(text: &[u8], without: Option<&str>) -> Result<Vec<u8>, String> {
    let mut out = Vec::with_capacity(text.len());
    let mut reader = serde_json::Deserializer::from_slice(text);
    let form = Form {
        out: &mut out,
        without,
    };
    form.deserialize(&mut reader)
        .and_then(|()| reader.end())
        .map_err(|e| e.to_string())?;
    Ok(out)
}

/// A value on its way into its canonical form.
struct Form<'o> {
    out: &'o mut Vec<u8>,
    without: Option<&'o str>,
}

/// A member of an object: its key, and where it stands in what was written.
struct Member<'de> {
    key: Cow<'de, str>,
    begin: usize,
    end: usize,
}

impl<'de> DeserializeSeed<'de> for Form<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Form<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        self.out.extend_from_slice(b"null");
        Ok(())
    }

    fn visit_bool<E>(self, truth: bool) -> Result<(), E> {
        self.out
            .extend_from_slice(if truth { b"true" } else { b"false" });
        Ok(())
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<(), E> {
        if number <= WHOLE {
            self.out.extend_from_slice(number.to_string().as_bytes());
            return Ok(());
        }
        self.other_number(&number)
    }

    fn visit_i64<E: de::Error>(self, number: i64) -> Result<(), E> {
        self.other_number(&number)
    }

    fn visit_f64<E: de::Error>(self, number: f64) -> Result<(), E> {
        self.other_number(&number)
    }

    fn visit_str<E>(self, text: &str) -> Result<(), E> {
        write_text(text, self.out);
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        self.out.push(b'[');
        let begin = self.out.len();
        while let Some(()) = items.next_element_seed(Item {
            out: self.out,
            begin,
        })? {}
        self.out.push(b']');
        Ok(())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let Form { out, without } = self;
        out.push(b'{');
        let first = out.len();
        let mut members: Vec<Member<'de>> = Vec::with_capacity(8);
        while let Some(key) = map.next_key_seed(Key)? {
            if without == Some(&*key) {
                map.next_value::<de::IgnoredAny>()?;
                continue;
            }
            if out.len() > first {
                out.push(b',');
            }
            let begin = out.len();
            write_text(&key, out);
            out.push(b':');
            map.next_value_seed(Form { out, without: None })?;
            let end = out.len();
            members.push(Member { key, begin, end });
        }
        put_in_order(&mut members, first, out).map_err(de::Error::custom)?;
        out.push(b'}');
        Ok(())
    }
}

impl Form<'_> {
    fn other_number<E: de::Error>(self, number: &impl serde::Serialize) -> Result<(), E> {
        let text = serde_json_canonicalizer::to_vec(number).map_err(E::custom)?;
        self.out.extend_from_slice(&text);
        Ok(())
    }
}

/// Puts the members of an object into the order of their keys.
fn put_in_order(members: &mut [Member<'_>], first: usize, out: &mut Vec<u8>) -> Result<(), String> {
    let twice = |pair: &[Member<'_>]| pair[0].key == pair[1].key;
    let rises = |pair: &[Member<'_>]| order(&pair[0].key, &pair[1].key).is_lt();
    if members.windows(2).all(rises) {
        return Ok(());
    }
    members.sort_by(|a, b| order(&a.key, &b.key));
    if let Some(pair) = members.windows(2).find(|pair| twice(pair)) {
        return Err(format!("the key `{}` stands twice", pair[0].key));
    }
    let written = out.split_off(first);
    for member in members {
        if out.len() > first {
            out.push(b',');
        }
        out.extend_from_slice(&written[member.begin - first..member.end - first]);
    }
    Ok(())
}

/// An item of a list, with a comma before it if it is not the first.
struct Item<'o> {
    out: &'o mut Vec<u8>,
    begin: usize,
}

impl<'de> DeserializeSeed<'de> for Item<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        if self.out.len() > self.begin {
            self.out.push(b',');
        }
        let form = Form {
            out: self.out,
            without: None,
        };
        form.deserialize(reader)
    }
}

/// A key, borrowed where it stands in the text as it is.
struct Key;

impl<'de> DeserializeSeed<'de> for Key {
    type Value = Cow<'de, str>;

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<Self::Value, D::Error> {
        reader.deserialize_str(self)
    }
}

impl<'de> Visitor<'de> for Key {
    type Value = Cow<'de, str>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }

    fn visit_borrowed_str<E>(self, key: &'de str) -> Result<Self::Value, E> {
        Ok(Cow::Borrowed(key))
    }

    fn visit_str<E>(self, key: &str) -> Result<Self::Value, E> {
        Ok(Cow::Owned(key.to_owned()))
    }
}

/// Keys are in the order of their UTF-16 code units (RFC 8785, 3.2.3).
fn order(a: &str, b: &str) -> std::cmp::Ordering {
    if a.is_ascii() && b.is_ascii() {
        return a.cmp(b);
    }
    a.encode_utf16().cmp(b.encode_utf16())
}

/// serde_json escapes what RFC 8785 (3.2.2.2) asks for, and nothing else.
fn write_text(text: &str, out: &mut Vec<u8>) {
    serde_json::to_writer(out, text).expect("memory takes all that is written");
}
