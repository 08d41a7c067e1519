//! Additions to registers as somebody wrote them: comments, order and line ends stay.
//!
//! Never in here: spreadsheets. Changes when a register gets a field.

use super::made::{put, said, shop, stepwell, text};

const PEOPLE: [(&str, &str); 5] = [
    (
        "people: []\n",
        "people:\n  - {id: n-1, name: New, roles: [author]}\n",
    ),
    (
        "# Who.\npeople:\n- id: a   # first\n  name: A\n  roles: [technician]\n  # about the next\n\n# end\n",
        "# Who.\npeople:\n- id: a   # first\n  name: A\n  roles: [technician]\n- {id: n-1, name: New, roles: [author]}\n  # about the next\n\n# end\n",
    ),
    (
        "people: [{id: a, name: A, roles: [technician]}] # all\n",
        "people: [{id: a, name: A, roles: [technician]}, {id: n-1, name: New, roles: [author]}] # all\n",
    ),
    (
        "people:\r\n    - {id: a, name: A, roles: [technician], left: 2026-01-31}",
        "people:\r\n    - {id: a, name: A, roles: [technician], left: 2026-01-31}\r\n    - {id: n-1, name: New, roles: [author]}",
    ),
    (
        "people:\n  - id: a\n    name: |\n      # not a comment\n    roles: [technician]\n    public_key: ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIlaGj/1ai70EbQWmPDmOmeK0fjI1eFLXLw0+DSJgQ1q a\n    former_keys: [ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAFSRLhtO/tF2EZERfreR9ULJGdk8owk14Lyb4iP8PTR a]\n",
        "people:\n  - id: a\n    name: |\n      # not a comment\n    roles: [technician]\n    public_key: ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIlaGj/1ai70EbQWmPDmOmeK0fjI1eFLXLw0+DSJgQ1q a\n    former_keys: [ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAFSRLhtO/tF2EZERfreR9ULJGdk8owk14Lyb4iP8PTR a]\n  - {id: n-1, name: New, roles: [author]}\n",
    ),
];

#[test]
fn a_person_is_added_and_all_else_stays() {
    for (before, after) in PEOPLE {
        let shop = shop();
        put(shop.path(), "people.yaml", before);
        said(
            shop.path(),
            0,
            &["people", "add", "n-1", "--name", "New", "--roles", "author"],
        );
        assert_eq!(text(shop.path(), "people.yaml"), after);
    }
}

#[test]
fn changes_go_into_entries_of_any_form() {
    let shop = shop();
    let before = "people:\n  - {id: a, name: A, roles: [technician]}\n  - id: b\n    name: 'B' # quoted\n    roles:\n      - technician\n      - author # both\n  # the last\n  - id: c\n    name: C\n    roles: [author]\n";
    put(shop.path(), "people.yaml", before);
    put(
        shop.path(),
        "in.csv",
        "id;name;role;left\na;A;;2026-01-31\nb;Bee;technician;2026-01-31\nc;C;author, technician;\n",
    );
    said(shop.path(), 0, &["people", "import", "in.csv"]);
    let after = text(shop.path(), "people.yaml");
    assert!(
        after.contains("  - {id: a, name: A, roles: [technician], left: 2026-01-31}\n"),
        "{after}"
    );
    assert!(
        after.contains("    name: Bee # quoted\n") && after.contains("  # the last\n"),
        "{after}"
    );
    assert!(
        after.contains("    roles: [author, technician]\n"),
        "{after}"
    );
    assert!(said(shop.path(), 0, &["people", "show", "b"]).contains("2026-01-31"));
}

#[test]
fn what_can_not_be_right_is_refused() {
    let shop = shop();
    let key = "not a key";
    let cases: [&[&str]; 9] = [
        &[
            "people", "add", "tech-04", "--name", "X", "--roles", "author",
        ],
        &["people", "add", "n 1", "--name", "X", "--roles", "author"],
        &["people", "add", "n-1", "--name", " ", "--roles", "author"],
        &["people", "add", "n-1", "--name", "X", "--roles", "boss"],
        &[
            "people",
            "add",
            "n-1",
            "--name",
            "X",
            "--roles",
            "author",
            "--public-key",
            key,
        ],
        &["devices", "add", "VP-1001"],
        &["devices", "add", "N-1", "--interval", "yearly"],
        &["devices", "add", "N-1", "--last-done", "31.03.2026"],
        &[
            "instruments",
            "add",
            "N-1",
            "--kind",
            "X",
            "--due",
            "2027-01-31",
            "--measures",
            "volume=0 psi..1 psi; 1 %",
        ],
    ];
    let files = ["people.yaml", "devices.csv", "instruments.yaml"];
    let before = files.map(|f| text(shop.path(), f));
    for words in cases {
        let output = stepwell(shop.path(), words);
        assert_eq!(output.status.code(), Some(2), "{words:?}");
        assert!(!output.stderr.is_empty());
    }
    assert_eq!(files.map(|f| text(shop.path(), f)), before);
}

#[test]
fn devices_and_instruments_are_added() {
    let shop = shop();
    said(
        shop.path(),
        0,
        &[
            "devices",
            "add",
            "N, 1",
            "--maker",
            "Example \"Works\"",
            "--interval",
            "a 12 months; b 6 months",
            "--last-done",
            "a 2026-01-31",
        ],
    );
    assert!(text(shop.path(), "devices.csv").ends_with(
        "\"N, 1\",,\"Example \"\"Works\"\"\",,,,a 12 months; b 6 months,a 2026-01-31\n"
    ));
    let words = [
        "instruments",
        "add",
        "BU-1",
        "--kind",
        "Burette: old",
        "--serial",
        "007",
        "--due",
        "2027-01-31",
        "--measures",
    ];
    let volume = "volume=0 mL..60 mL; 1 % + 0.02 mL; k 2; 0.01 mL";
    said(
        shop.path(),
        0,
        &[
            &words[..],
            &[
                volume,
                "--measures",
                "temperature=0 degC..50 degC; 0.1 K; rectangular",
            ],
        ]
        .concat(),
    );
    let shown = said(shop.path(), 0, &["instruments", "show", "BU-1"]);
    assert!(
        shown.contains(volume) && shown.contains("Burette: old") && shown.contains("007"),
        "{shown}"
    );
    assert!(said(shop.path(), 0, &["check"]).contains("0 errors"));
}

#[test]
fn check_covers_the_new_fields() {
    let shop = shop();
    put(
        shop.path(),
        "people.yaml",
        "people:\n  - {id: a, name: A, roles: [author], public_key: 'ssh-rsa AAAA', left: 2026-02-31}\n",
    );
    put(
        shop.path(),
        "devices.csv",
        "tag,interval,last_done\nA,often,soon\nB,12,\"2026-01-31\nC,12,\n",
    );
    put(
        shop.path(),
        "instruments.yaml",
        "instruments:\n  - {id: a, kind: A, due: 2027-01-31, upkeep: {cleaning: often}}\n",
    );
    put(
        shop.path(),
        "imports.yaml",
        "imports:\n  - {register: devices, headings: [a, b], columns: [tagg]}\n",
    );
    put(shop.path(), "upkeep-B7.jsonl", "{\"upkeep\":1}\n");
    let told = said(shop.path(), 1, &["check"]);
    for part in [
        "ssh-rsa",
        "`left`",
        "`often` is not an interval",
        "`soon` is not a day",
        "never closed",
        "`tagg`",
        "1 column for 2",
        "upkeep-B7.jsonl:1:1",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
}
