//! The canonical form of JSON against the examples of its standard.
//!
//! Source: RFC 8785 (2020), the sections named at each test, all recalled from memory and not seen; the digits of
//! appendix B agree with the shortest ones that Python's `repr` gives for the same bits.
//! Never in here: our own records. Changes never.

use serde_json::Value;
use stepwell::trust::{canonical, digest_json};

fn canonical_text(json: &str) -> String {
    let value: Value = serde_json::from_str(json).expect("JSON");
    String::from_utf8(canonical(&value).expect("a canonical form")).expect("UTF-8")
}

/// Section 3.2.2: input and output.
const SAMPLE: &str = r#"{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"#;
const SAMPLE_CANONICAL: &str = r#"{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}"#;

/// Section 3.2.4: the same as bytes.
const SAMPLE_BYTES: &str = "
    7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72
    75 65 2c 66 61 6c 73 65 5d 2c 22 6e 75 6d 62 65 72 73 22 3a
    5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31
    65 2b 33 30 2c 34 2e 35 2c 30 2e 30 30 32 2c 31 65 2d 32 37
    5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30
    30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d";

#[test]
fn the_sample_of_the_standard_has_its_form_and_its_bytes() {
    assert_eq!(canonical_text(SAMPLE), SAMPLE_CANONICAL);
    let bytes: Vec<u8> = SAMPLE_BYTES
        .split_whitespace()
        .map(|b| u8::from_str_radix(b, 16).expect("a byte"))
        .collect();
    assert_eq!(canonical_text(SAMPLE).as_bytes(), bytes);
}

/// Section 3.2.3: keys are sorted by UTF-16 code units, so that the emoji comes before U+FB33.
#[test]
fn keys_are_sorted_as_in_the_standard() {
    let keys = r#"{
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\ud83d\ude00": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis"
    }"#;
    let sorted = [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ];
    let text = canonical_text(keys);
    let places: Vec<_> = sorted.iter().map(|name| text.find(name)).collect();
    assert!(
        places.iter().all(Option::is_some) && places.is_sorted(),
        "{text}"
    );
}

/// Appendix B: the bits of a number and its form.
const NUMBERS: [(u64, &str); 24] = [
    (0x0000_0000_0000_0000, "0"),
    (0x8000_0000_0000_0000, "0"),
    (0x0000_0000_0000_0001, "5e-324"),
    (0x8000_0000_0000_0001, "-5e-324"),
    (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
    (0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308"),
    (0x4340_0000_0000_0000, "9007199254740992"),
    (0xc340_0000_0000_0000, "-9007199254740992"),
    (0x4430_0000_0000_0000, "295147905179352830000"),
    (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
    (0x44b5_2d02_c7e1_4af6, "1e+23"),
    (0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23"),
    (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
    (0x444b_1ae4_d6e2_ef4f, "999999999999999900000"),
    (0x444b_1ae4_d6e2_ef50, "1e+21"),
    (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
    (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
    (0x41b3_de43_5555_5553, "333333333.3333332"),
    (0x41b3_de43_5555_5554, "333333333.33333325"),
    (0x41b3_de43_5555_5555, "333333333.3333333"),
    (0x41b3_de43_5555_5556, "333333333.3333334"),
    (0x41b3_de43_5555_5557, "333333333.33333343"),
    (0xbecb_f647_612f_3696, "-0.0000033333333333333333"),
    (0x4314_3ff3_c1cb_0959, "1424953923781206.2"),
];

#[test]
fn numbers_have_the_form_of_the_standard() {
    for (bits, form) in NUMBERS {
        let number = Value::from(f64::from_bits(bits));
        let text = canonical(&number).expect("a canonical form");
        assert_eq!(String::from_utf8_lossy(&text), form, "{bits:016x}");
    }
}

const DIGEST: &str = "sha256:2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb";

/// SHA-256 of the bytes of section 3.2.4, from Python's `hashlib`.
#[test]
fn the_digest_is_that_of_the_canonical_bytes() {
    let value: Value = serde_json::from_str(SAMPLE).expect("JSON");
    assert_eq!(digest_json(&value).as_deref(), Ok(DIGEST));
}
