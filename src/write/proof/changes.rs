//! What a customer would see change, in her words: a text that was approved against one that is made now.
//!
//! Imports: write::proof::seen.

use super::seen::FIELD;
use std::collections::BTreeMap;

/// Fields of the lines of a kind.
fn of_kind<'a>(text: &'a str, kind: &str) -> Vec<Vec<&'a str>> {
    text.lines()
        .map(|l| l.split(FIELD).collect::<Vec<_>>())
        .filter(|f| f[0] == kind)
        .map(|f| f[1..].to_vec())
        .collect()
}

/// Cups of a text: their number and what they say, the wall's fingerprint left out.
fn cups(text: &str) -> BTreeMap<u32, String> {
    let cup = |l: &str| {
        let mut fields: Vec<&str> = l.split(FIELD).collect();
        let number = fields[0].strip_prefix("cup ")?.parse().ok()?;
        fields.pop();
        Some((number, fields[1..].join(", ")))
    };
    text.lines().filter_map(cup).collect()
}

/// Everything that differs, text first, then sizes, places and colours, then spots; none if nothing is seen.
pub fn changes(was: &str, now: &str) -> Vec<String> {
    let mut out = Vec::new();
    let (before, after) = (cups(was), cups(now));
    let words = |s: &str| s.split("\", ").next().map_or_else(String::new, |w| w.trim_matches('"').to_owned());
    for (cup, says) in &after {
        match before.get(cup) {
            None => out.push(format!("Cup {cup} is new: \"{}\".", words(says))),
            Some(old) if words(old) != words(says) => {
                out.push(format!("Cup {cup}: \"{}\" -> \"{}\".", words(old), words(says)));
            }
            Some(old) if old != says => {
                out.push(format!("Cup {cup}: \"{}\" is lettered otherwise: {old} -> {says}.", words(says)))
            }
            Some(_) => {}
        }
    }
    for (cup, says) in before.iter().filter(|(c, _)| !after.contains_key(c)) {
        out.push(format!("Cup {cup} is gone: \"{}\".", words(says)));
    }
    for (kind, what) in [("layer", "lettering or decal"), ("motif", "motif"), ("base", "on the base")] {
        pieces(&of_kind(was, kind), &of_kind(now, kind), what, &mut out);
    }
    for kind in ["title", "cup", "no film below the rim for", "band", "film"] {
        let (old, new) = (of_kind(was, kind), of_kind(now, kind));
        for line in &new {
            // Films and bands are known by their names; of the rest there is one.
            let named = matches!(kind, "film" | "band");
            let same = old.iter().find(|o| !named || o[0] == line[0]);
            match same {
                Some(o) if o == line => {}
                Some(o) => out.push(format!("{}: {} -> {}.", capital(kind), o.join(", "), line.join(", "))),
                None => out.push(format!("{} is new: {}.", capital(kind), line.join(", "))),
            }
        }
        for line in
            old.iter().filter(|o| matches!(kind, "film" | "band") && !new.iter().any(|n| n[0] == o[0]))
        {
            out.push(format!("{} is gone: {}.", capital(kind), line.join(", ")));
        }
    }
    let (mut old, new) = (of_kind(was, "spot"), of_kind(now, "spot"));
    let mut fresh = 0;
    for spot in &new {
        match old.iter().position(|o| o == spot) {
            Some(i) => {
                old.swap_remove(i);
            }
            None => fresh += 1,
        }
    }
    if fresh + old.len() > 0 {
        out.push(format!("Small spots: {} gone, {fresh} new; {} as before.", old.len(), new.len() - fresh));
    }
    out
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

/// Pieces that are not the same: told by their names, those of one name paired in their order.
fn pieces(was: &[Vec<&str>], now: &[Vec<&str>], what: &str, out: &mut Vec<String>) {
    let (mut gone, mut fresh): (Vec<&Vec<&str>>, Vec<&Vec<&str>>) = (was.iter().collect(), Vec::new());
    for p in now {
        match gone.iter().position(|o| *o == p) {
            Some(i) => {
                gone.remove(i);
            }
            None => fresh.push(p),
        }
    }
    for p in fresh {
        let Some(i) = gone.iter().position(|o| o[0] == p[0]) else {
            out.push(format!("{} ({what}) is new: {}.", capital(p[0]), p[1..].join(", ")));
            continue;
        };
        let old = gone.remove(i);
        let field = |k: usize| {
            (old.get(k) != p.get(k)).then(|| Some(format!("{} -> {}", old.get(k)?, p.get(k)?))).flatten()
        };
        let all: Vec<String> = (1..p.len()).filter_map(field).collect();
        out.push(format!("{} ({what}): {}.", capital(p[0]), all.join("; ")));
    }
    for p in gone {
        out.push(format!("{} ({what}) is gone.", capital(p[0])));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WAS: &str = "what is seen, 1\nfilm | gold | #c48309 | gloss\nmotif | sunflower | gold | 50.0 x 48.0 mm | 117.0 mm up, -30.0 degrees round, turned 0.0\n\
        spot | pebble | gold | 5.0 x 5.0 mm | 1 up\nspot | pebble | gold | 5.0 x 5.0 mm | 2 up\ncup 1 | \"Ana\" | in x, capitals 9.0 mm | wall aa\ncup 2 | \"Bo\" | in x, capitals 9.0 mm | wall aa\n";

    #[test]
    fn changes_are_told_in_order_and_nothing_else() {
        assert_eq!(changes(WAS, WAS), Vec::<String>::new());
        let now = WAS.replace("Ana", "Anna").replace("wall aa", "wall bb");
        assert_eq!(changes(WAS, &now), ["Cup 1: \"Ana\" -> \"Anna\"."]);
        let now =
            now.replace("50.0 x 48.0", "55.0 x 52.8").replace("#c48309", "#c08000").replace("2 up", "3 up");
        assert_eq!(
            changes(WAS, &now)[1..],
            [
                "Sunflower (motif): 50.0 x 48.0 mm -> 55.0 x 52.8 mm.",
                "Film: gold, #c48309, gloss -> gold, #c08000, gloss.",
                "Small spots: 1 gone, 1 new; 1 as before."
            ]
        );
        let less = WAS.replace("cup 2 | \"Bo\" | in x, capitals 9.0 mm | wall aa\n", "");
        assert_eq!(changes(WAS, &less), ["Cup 2 is gone: \"Bo\"."]);
    }
}
