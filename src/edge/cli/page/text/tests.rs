//! Edits against the text itself: what was asked for changes, and nothing else.

use super::*;
use proptest::prelude::*;
use serde_json::json;

fn steps(path: &str) -> Vec<Step> {
    let step = |s: &str| s.parse().map_or_else(|_| Step::Key(s.to_owned()), Step::Index);
    path.split('/').map(step).collect()
}
fn set(path: &str, to: Json) -> Edit {
    Edit::Set { at: steps(path), to }
}

const JOB: &str = include_str!("../../../../../demo-data/harvest-fair/job.toml");

#[test]
fn one_value_changes_and_nothing_else() {
    let new = edited(JOB, &[set("motif/0/poses/0/azimuth", json!(7.5))]).expect("an edit");
    let (old, now): (Vec<&str>, Vec<&str>) = (JOB.lines().collect(), new.lines().collect());
    assert_eq!(old.len(), now.len());
    let differ: Vec<_> = old.iter().zip(&now).filter(|(a, b)| a != b).collect();
    assert_eq!(differ, [(&"poses = [{ azimuth = 0, up = 34 }]", &"poses = [{ azimuth = 7.5, up = 34 }]")]);
}

#[test]
fn a_comment_beside_a_value_stays() {
    let text = "[cup]\nseam = 180 # at the back\nwall = 165\n";
    assert_eq!(edited(text, &[set("cup/seam", json!(170))]).unwrap(), text.replace("180", "170"));
}

#[test]
fn what_is_said_again_is_not_written_again() {
    let text = "a = 0xff\nb = 207.50\nc = 'x'\nd = 1_000\n";
    let same = [set("a", json!(255)), set("b", json!(207.5)), set("c", json!("x")), set("d", json!(1000))];
    assert_eq!(edited(text, &same).unwrap(), text);
}

#[test]
fn tables_and_lists_are_made_where_there_are_none() {
    let made = edited(
        "unit = \"mm\"\n",
        &[
            set("cup", json!({ "rings": [{ "up": 0, "girth": 200 }], "wall": "6 1/2 in" })),
            Edit::Add { at: steps("film"), to: json!({ "name": "blue", "sheet": [300, 200] }) },
            Edit::Add { at: steps("film"), to: json!({ "name": "red", "sheet": [300, 200] }) },
            set("finish/price/hour", json!(18)),
        ],
    )
    .unwrap();
    let again = json(&made).expect("TOML");
    assert_eq!(again["film"][1]["name"], "red");
    assert_eq!(again["cup"]["wall"], "6 1/2 in");
    assert_eq!(again["finish"]["price"]["hour"], 18);
    assert!(made.contains("[cup]\n") && made.matches("[[film]]").count() == 2, "{made}");
}

#[test]
fn what_cannot_be_done_changes_nothing_and_says_so() {
    for edit in [set("motif/99/width", json!(1)), set("unit/x", json!(1)), set("motif/0/art", Json::Null)] {
        assert!(edited(JOB, &[edit]).is_err());
    }
    assert!(edited("a = [", &[set("b", json!(1))]).unwrap_err().contains("nothing was changed"));
    let deep = Edit::Set { at: vec![Step::Key("a".into()); 40], to: json!(1) };
    assert!(edited("", &[deep]).is_err());
}

/// Every place of a value in a document, as steps.
fn places(v: &Json, at: &mut Vec<Step>, out: &mut Vec<(Vec<Step>, Json)>) {
    match v {
        Json::Object(map) => {
            for (k, v) in map {
                at.push(Step::Key(k.clone()));
                places(v, at, out);
                at.pop();
            }
        }
        Json::Array(list) => {
            for (i, v) in list.iter().enumerate() {
                at.push(Step::Index(i));
                places(v, at, out);
                at.pop();
            }
        }
        v => out.push((at.clone(), v.clone())),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]
    /// Two hundred edits of the demonstration and the steps back: every comment stands all the while, every
    /// other value is what it was (read by toml, which has no part in the writing), and at the end the text is
    /// the one at the beginning, byte for byte.
    #[test]
    fn two_hundred_edits_and_back(picks in prop::collection::vec((0usize..10_000, -500i32..500), 200)) {
        let mut list = Vec::new();
        places(&json(JOB).expect("TOML"), &mut Vec::new(), &mut list);
        let numbers: Vec<_> = list.into_iter().filter(|(_, v)| v.is_number()).collect();
        let comments = |t: &str| t.lines().filter_map(|l| l.find('#').map(|i| l[i..].to_owned())).filter(|c| c.starts_with("# ")).collect::<Vec<_>>();
        let mut history = super::super::history::History::default();
        let mut text = JOB.to_owned();
        for (pick, v) in &picks {
            let (at, _) = &numbers[pick % numbers.len()];
            let new = edited(&text, &[Edit::Set { at: at.clone(), to: json!(f64::from(*v) / 4.0) }]).expect("an edit");
            prop_assert_eq!(comments(&new), comments(JOB));
            let (mut a, mut b) = (Vec::new(), Vec::new());
            let toml = |t: &str| serde_json::to_value(toml::from_str::<toml::Table>(t).expect("TOML")).expect("JSON");
            places(&toml(&text), &mut Vec::new(), &mut a);
            places(&toml(&new), &mut Vec::new(), &mut b);
            let differ: Vec<_> = a.iter().zip(&b).filter(|(x, y)| x != y).map(|(x, _)| x.0.clone()).collect();
            prop_assert!(differ.is_empty() || differ == vec![at.clone()], "{:?}", differ);
            if new != text {
                history.step("edit", &text, &new);
            }
            text = new;
        }
        while let Some(before) = history.back(&text) {
            history.went_back();
            text = before;
        }
        prop_assert_eq!(text, JOB);
    }
}
