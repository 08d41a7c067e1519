//! Laws of the digest: the order of keys does not matter, and the canonical form is its own canonical form.
//!
//! Never in here: what a record holds. Changes never.

use proptest::prelude::*;
use serde_json::{Map, Value};
use stepwell::trust::{canonical, digest_json};

fn values() -> impl Strategy<Value = Value> {
    let text = prop_oneof!["[a-c]{0,3}", "\\PC{0,6}", "[\\x00-\\x1f\"\\\\]{0,4}"];
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (-9_007_199_254_740_991i64..9_007_199_254_740_991).prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        text.clone().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 48, 6, move |inner| {
        let pairs = proptest::collection::vec((text.clone(), inner.clone()), 0..6);
        prop_oneof![
            proptest::collection::vec(inner, 0..6).prop_map(Value::from),
            pairs.prop_map(|p| Value::Object(p.into_iter().collect())),
        ]
    })
}

/// The same value with the keys of every object turned by `by`, and then in reverse.
fn reordered(value: &Value, by: usize) -> Value {
    match value {
        Value::Array(items) => items.iter().map(|v| reordered(v, by)).collect(),
        Value::Object(map) => {
            let mut pairs: Vec<(String, Value)> = map
                .iter()
                .map(|(k, v)| (k.clone(), reordered(v, by + 1)))
                .collect();
            if !pairs.is_empty() {
                let middle = by % pairs.len();
                pairs.rotate_left(middle);
            }
            Value::Object(pairs.into_iter().rev().collect::<Map<_, _>>())
        }
        other => other.clone(),
    }
}

/// Values as the program stores them: texts, truths, whole numbers.
fn stored() -> impl Strategy<Value = Value> {
    let text = prop_oneof!["[a-c]{0,3}", "\\PC{0,6}", "[\\x00-\\x1f\"\\\\]{0,4}"];
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (0u64..9_007_199_254_740_993).prop_map(Value::from),
        text.clone().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 48, 6, move |inner| {
        let pairs = proptest::collection::vec((text.clone(), inner.clone()), 0..6);
        prop_oneof![
            proptest::collection::vec(inner, 0..6).prop_map(Value::from),
            pairs.prop_map(|p| Value::Object(p.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn the_form_is_that_of_a_library(value in stored()) {
        let library = serde_json_canonicalizer::to_vec(&value).expect("a canonical form");
        prop_assert_eq!(canonical(&value).expect("a canonical form"), library);
    }

    #[test]
    fn the_order_of_keys_does_not_matter(value in values(), by in 0usize..8) {
        let other = reordered(&value, by);
        prop_assert_eq!(&other, &value);
        prop_assert_eq!(digest_json(&other), digest_json(&value));
    }

    #[test]
    fn the_canonical_form_is_its_own(value in values()) {
        let once = canonical(&value).expect("a canonical form");
        let read: Value = serde_json::from_slice(&once).expect("JSON");
        prop_assert_eq!(canonical(&read).expect("a canonical form"), once);
    }
}
