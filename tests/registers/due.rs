//! What falls due: checks, calibration, upkeep; never done, overdue, in time.
//!
//! Never in here: calendar arithmetic. Changes when something else falls due.

use jiff::ToSpan;
use jiff::civil::{Date, date};
use stepwell::host::{Host, RealHost};
use stepwell::shop::{
    Due, Task, Tested, TestedBy, due_of_device, due_of_instrument, read_devices, read_kept,
    read_upkeep, sort_due,
};
use stepwell::text::Source;

use super::made::{data, put, said, shop, shop_with};

const TODAY: Date = date(2026, 3, 31);

fn checks(row: &str, tested: &TestedBy<'_>) -> Vec<(Option<String>, String, i32)> {
    let text = format!("tag,interval,last_done\n{row}\n");
    let (devices, findings) = read_devices(&Source::new("devices.csv", &text));
    assert!(findings.is_empty(), "{findings:?}");
    let plain = |d: Due| match d.task {
        Task::Check(recipe) => (recipe, d.day.to_string(), d.days),
        other => panic!("{other:?}"),
    };
    due_of_device(&devices[0], tested, TODAY)
        .into_iter()
        .map(plain)
        .collect()
}

fn passed(day: Option<Date>) -> Tested {
    Tested {
        passed: day.map(|day| (day, "some".to_owned())),
        failed: None,
    }
}

#[test]
fn a_device_is_due_an_interval_after_the_later_of_register_and_record() {
    let never = |_: &str, _: Option<&str>| Tested::default();
    assert_eq!(
        checks("A,12,2025-03-31", &never),
        [(None, "2026-03-31".into(), 0)]
    );
    assert_eq!(
        checks("A,12,2025-03-30", &never),
        [(None, "2026-03-30".into(), -1)]
    );
    assert_eq!(checks("A,12,", &never), [(None, "2026-03-31".into(), 0)]);
    assert_eq!(checks("A,,2025-03-30", &never), []);
    let later = |tag: &str, recipe: Option<&str>| {
        passed((tag == "A" && recipe.is_none()).then_some(date(2026, 3, 1)))
    };
    assert_eq!(
        checks("A,1 month,2025-03-30", &later),
        [(None, "2026-04-01".into(), 1)]
    );
    assert_eq!(
        checks("A,1 month,2026-03-02", &later),
        [(None, "2026-04-02".into(), 2)]
    );
}

#[test]
fn each_recipe_has_its_own_day() {
    let of_battery = |_: &str, recipe: Option<&str>| {
        passed((recipe == Some("battery-check")).then_some(date(2026, 3, 30)))
    };
    let each = checks(
        "A,annual 1 year; battery-check 1 week,annual 2025-06-30",
        &of_battery,
    );
    assert_eq!(
        each,
        [
            (Some("annual".into()), "2026-06-30".into(), 91),
            (Some("battery-check".into()), "2026-04-06".into(), 6)
        ]
    );
    // A day without a recipe counts for each.
    let one = checks(
        "A,annual 1 year; battery-check 1 week,2026-03-30",
        &|_, _| Tested::default(),
    );
    assert_eq!(
        one[1],
        (Some("battery-check".into()), "2026-04-06".into(), 6)
    );
}

#[test]
fn instruments_have_calibration_and_upkeep() {
    let (kept, findings) = read_kept(Source::new(
        "instruments.yaml",
        "instruments:\n  - {id: X, kind: Gauge, due: 2026-03-31, upkeep: {leak check: 90 days, cleaning: 1 month}}\n",
    ));
    assert!(findings.is_empty(), "{findings:?}");
    let line = |on: &str| {
        format!(
            "{{\"upkeep\":1,\"instrument\":\"X\",\"what\":\"leak check\",\"by\":\"a\",\"on\":\"{on}\",\"at\":\"\"}}\n"
        )
    };
    let (done, _) = read_upkeep(&Source::new(
        "upkeep-B1.jsonl",
        &(line("2026-01-31") + &line("2025-12-01")),
    ));
    let mut list = due_of_instrument(&kept[0], &done, TODAY);
    sort_due(&mut list);
    let plain: Vec<(Task, String, bool)> = list
        .iter()
        .map(|d| (d.task.clone(), d.day.to_string(), d.last.is_some()))
        .collect();
    assert_eq!(plain[0].0, Task::Calibration);
    assert_eq!(
        plain[1],
        (Task::Upkeep("cleaning".into()), "2026-03-31".into(), false)
    );
    // 31 January and 90 days: 28 days of February, 31 of March, 30 of April, and one.
    assert_eq!(
        plain[2],
        (Task::Upkeep("leak check".into()), "2026-05-01".into(), true)
    );
}

fn day(from_today: i64) -> String {
    let today: Date = RealHost::default().today().parse().expect("a day");
    today
        .checked_add(from_today.days())
        .expect("a day")
        .to_string()
}

/// A shop in which a device falls due today + n.
fn falls(n: i64) -> tempfile::TempDir {
    let register = format!(
        "tag,interval,last_done\nA-1,10 days,{}\nA-2,,\n",
        day(n - 10)
    );
    let shop = shop_with(&register);
    put(shop.path(), "instruments.yaml", "instruments: []\n");
    shop
}

#[test]
fn the_exit_code_says_whether_something_is_due() {
    let shop = falls(3);
    let said_of = |exit, words: &[&str]| said(shop.path(), exit, words);
    let next = said_of(0, &["due"]);
    assert!(
        next.contains("nothing is due today")
            && next.contains("next: due ")
            && next.contains("A-2"),
        "{next}"
    );
    assert!(said_of(0, &["due", "--within", "2"]).contains("within 2 days"));
    assert!(said_of(1, &["due", "--within", "3"]).contains("(in 3 days): A-1"));
    assert!(said(falls(0).path(), 1, &["due"]).contains("due today"));
    assert!(said(falls(-2).path(), 1, &["due"]).contains("OVERDUE since"));
}

#[test]
fn a_passed_record_counts_and_a_failed_one_does_not() {
    let shop = shop();
    let walk = |answers: &str, exit| {
        let words = "run volumetric-annual --device VP-1001 --by tech-04 --answers";
        let words: Vec<&str> = words.split(' ').chain([answers]).collect();
        said(shop.path(), exit, &words);
        data(shop.path(), 0, &["devices", "show", "VP-1001"])["due_list"][0]["last"].clone()
    };
    assert_eq!(walk("answers/fail.yaml", 1), "2025-03-18");
    assert_eq!(walk("answers/pass.yaml", 0), day(0));
}

/// A fail waits for a repair whatever its day; a pass after that takes the fail back and leaves the day of the check.
#[test]
fn a_failed_device_is_due_until_it_is_repaired_and_a_repair_is_no_check() {
    let register = format!(
        "tag,serial,maker,model,category,interval,last_done\nVP-1001,EW-100231,Example Works,VP-1,volumetric,1 year,{}\n",
        day(-10)
    );
    let shop = shop_with(&register);
    let run = |occasion: &str, answers: &str, exit| {
        let words = "run volumetric-annual --device VP-1001 --by tech-04 --occasion";
        let words: Vec<&str> = words
            .split(' ')
            .chain([occasion, "--answers", answers])
            .collect();
        said(shop.path(), exit, &words);
        let all = data(shop.path(), 1, &["due"])["due"].clone();
        let of = |d: &&serde_json::Value| d["device"] == "VP-1001";
        all.as_array().expect("a list").iter().find(of).cloned()
    };
    let failed = run("scheduled check", "answers/fail.yaml", 1).expect("due by its fail");
    assert!(
        failed["days"].as_i64() > Some(300) && failed["failed"] == day(0),
        "{failed}"
    );
    let list = said(shop.path(), 1, &["due"]);
    assert!(
        list.lines()
            .nth(1)
            .is_some_and(|l| l.contains("VP-1001") && l.contains("FAILED")),
        "{list}"
    );
    assert_eq!(run("after repair", "answers/pass.yaml", 0), None);
    let last =
        || data(shop.path(), 0, &["devices", "show", "VP-1001"])["due_list"][0]["last"].clone();
    assert_eq!(last(), day(-10));
    run("acceptance", "answers/pass.yaml", 0);
    assert_eq!(last(), day(0));
}

#[test]
fn the_demo_has_something_to_say() {
    let list = data(shop().path(), 1, &["due"]);
    let days: Vec<i64> = list["due"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|d| d["days"].as_i64().expect("a number"))
        .collect();
    assert!(
        days.is_sorted() && days[0] < 0 && days.len() > 5,
        "{days:?}"
    );
    assert!(
        list["due"]
            .as_array()
            .expect("a list")
            .iter()
            .any(|d| d["never"] == true)
    );
}
