//! The pages and the calendar of a finished plan: what they must say, and what the customer must not see.

use super::*;
use crate::base::diag::Diagnostics;
use crate::base::moment::Moment;
use crate::base::money::{Money, Share, parsed};
use crate::base::units::{Ml, Mm};
use crate::make::finish::finish;
use crate::make::verify::Verified;
use crate::read::job::FilmId;
use crate::read::job::finish::*;
use crate::write::sample;
use resvg::usvg::roxmltree;

fn money(t: &str) -> Money {
    Money(parsed(t).expect("a decimal"))
}

/// The sample with two loads of cups, a band, words to check and prices whose figures are found nowhere else.
fn plan() -> Verified {
    let mut plan = sample::plan(180.0, 0.0).into_plan();
    let mut spec = FinishSpec { cups: 3, ..FinishSpec::default() };
    spec.times.start = Moment::parse("2026-09-01 09:00");
    spec.times.seats = usual(2);
    spec.spelling = vec!["Best <in> show".into(), "Zo\u{eb} & Co".into()];
    spec.bands.push(ColourBand {
        name: "foot".into(),
        from: Mm(0.0),
        to: Mm(30.0),
        fade_low: Mm(0.0),
        fade_high: Mm(9.0),
        colour: None,
    });
    spec.products[0].pack = Some((money("48.77"), Content::Volume(Ml(750.0))));
    let films = (0..plan.job.films.len()).map(|i| (FilmId(i), FilmPrice::PerSheet(money("1.93")))).collect();
    spec.price = Some(PriceSpec {
        currency: "EUR".into(),
        hour: money("22.41"),
        blank: money("6.37"),
        consumables: money("1.13"),
        packing: money("1.79"),
        films,
        charge: FilmCharge::Bought,
        waste: Share::ZERO,
        overhead: Share(parsed("0.117").expect("a share")),
        reject: Share(parsed("0.043").expect("a share")),
        fee_fixed: money("0.31"),
        fee: Share(parsed("0.029").expect("a share")),
        gain: Gain::Margin(Share(parsed("0.237").expect("a share"))),
        tax: Share(parsed("0.19").expect("a share")),
        round_to: money("0.50"),
        breaks: vec![1, 3, 12],
        valid_days: 30,
    });
    plan.job.finish = Some(spec);
    let mut diagnostics = Diagnostics::new();
    plan.finish = finish(
        &plan.job,
        &plan.cup,
        &plan.pieces,
        &crate::make::finish::LaidFilm::of_one(&plan.pieces, &plan.sheets),
        None,
        &mut diagnostics,
    );
    assert!(!diagnostics.any_fault(), "{diagnostics:?}");
    Verified::unchecked(plan)
}

fn well_formed(html: &str) -> roxmltree::Document<'_> {
    // Our HTML keeps to XML but for the doctype and the two void elements of the head.
    let body = &html[html.find("<body>").expect("a body")..html.find("</html>").expect("an end")];
    roxmltree::Document::parse(body).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn the_quote_says_price_and_words_and_nothing_of_the_cost() {
    let plan = plan();
    let costing = plan.finish().costing.as_ref().expect("priced");
    let html = quote::text(&plan, costing, &[]);
    let doc = well_formed(&html);
    let text: String = doc.descendants().filter_map(|n| n.text()).collect::<Vec<_>>().join(" ");
    let order = &costing.order;
    for want in [
        order.price_each.to_string(),
        order.pays.to_string(),
        "Best <in> show".into(),
        "Zo\u{eb} & Co".into(),
        "12 October 2026".into(),
    ] {
        assert!(text.contains(&want), "the quote lacks {want}");
    }
    let inner =
        [order.direct, order.overhead, order.made, order.good, order.good_each, order.earned, order.fees];
    for secret in inner
        .iter()
        .map(Money::to_string)
        .chain(["22.41", "6.37", "48.77", "1.93", "23.7", "11.7"].map(String::from))
    {
        assert!(!text.contains(&secret), "the quote tells {secret}");
    }
    for word in ["margin", "overhead", "reject", "fee", "hands-on"] {
        assert!(!text.to_lowercase().contains(word), "the quote speaks of {word}");
    }
    // Every piece of the wall is in the picture.
    let pieces = doc
        .descendants()
        .filter(|n| n.attribute("id") == Some("quote-pieces"))
        .flat_map(|g| g.children())
        .filter(|n| n.has_tag_name("path") || n.tag_name().name() == "path")
        .count();
    assert_eq!(pieces, plan.on_wall().count());
    let with_picture = quote::text(&plan, costing, &[("front", b"\x89PNG")]);
    assert!(with_picture.contains("data:image/png;base64,iVBORw==\"") && !with_picture.contains("<svg"));
}

#[test]
fn the_makers_sheet_shows_amounts_windows_and_cautions_at_their_steps() {
    let plan = plan();
    let html = maker_sheet::text(&plan);
    let doc = well_formed(&html);
    let steps: Vec<_> = doc.descendants().filter(|n| n.attribute("class") == Some("step")).collect();
    assert_eq!(steps.len(), plan.finish().steps.len());
    for (node, step) in steps.iter().zip(&plan.finish().steps) {
        let text: String = node.descendants().filter_map(|n| n.text()).collect();
        for c in &step.cautions {
            assert!(text.contains(c.title) && text.contains(c.text), "step {} lacks {}", step.number, c.id);
        }
        for b in &step.batches {
            assert!(
                text.contains(&format!("{:.1}", b.mix.a_weight)) && text.contains(&format!("{:.1}", b.mix.b))
            );
        }
    }
    let all: String = doc.descendants().filter_map(|n| n.text()).collect();
    for r in &plan.finish().rates {
        assert!(all.contains(&r.what) && all.contains(r.basis));
    }
    for c in &plan.finish().cautions {
        assert!(c.sources.iter().all(|s| all.contains(&super::maker_sheet::cited(s))));
    }
    assert!(all.contains(&plan.finish().costing.as_ref().expect("priced").order.earned.to_string()));
}

/// Each guide ring of the template, taken back to the wall, lies at its slant all round.
#[test]
fn guide_rings_lie_at_their_height() {
    let plan = plan();
    let at = crate::base::frame::Point::mm(0.0, 0.0);
    let band = crate::write::template::band::Band::new(&plan.cup().zones[0], Mm::ZERO, at);
    let body = crate::write::template::wrap::body(&plan, std::slice::from_ref(&band));
    let group = body.groups.iter().find(|g| g.id == "guide-rings").expect("a group");
    // The lower edge is the template's own; the fade's begin and end are lines.
    let want = [21.0, 30.0];
    assert_eq!(group.marks.len(), want.len());
    let back = band.to_page.inverse();
    for (mark, slant) in group.marks.iter().zip(want) {
        for p in mark.path.elements().iter().filter_map(crate::outline::PathEl::end_point) {
            let w = plan.cup().zones[0].development.wrap(back.apply(crate::base::frame::Point::mm(p.x, p.y)));
            assert!((w.slant.0 - slant).abs() < 1e-6, "{} at {slant}", w.slant);
        }
    }
    let words: Vec<&str> = group.words.iter().map(|w| w.message.as_str()).collect();
    // Each word stands on its own along the bend of the ring.
    assert!(words.join(" ").contains("foot: full up to here (21.0 mm up)"), "{words:?}");
}

/// RFC 5545, 3.1 and 3.3.11, by hand: the real parser reads the file in the outside checks.
#[test]
fn calendar_lines_are_folded_escaped_and_unique() {
    let mut plan = plan().into_plan();
    plan.job.title =
        "Zo\u{eb}, Anna; \\ and a title that is long enough to be folded more than once \u{1f95a}".repeat(2);
    let plan = Verified::unchecked(plan);
    let calendar = plan.finish().calendar.as_ref().expect("a start");
    let ics = calendar::text(&plan, calendar);
    let mut unfolded: Vec<String> = Vec::new();
    for line in ics.strip_suffix("\r\n").expect("ends with CR LF").split("\r\n") {
        assert!(line.len() <= 75 && !line.contains(['\r', '\n']), "{line}");
        match line.strip_prefix(' ') {
            Some(rest) => unfolded.last_mut().expect("a line before").push_str(rest),
            None => unfolded.push(line.to_owned()),
        }
    }
    let uids: Vec<&String> = unfolded.iter().filter(|l| l.starts_with("UID:")).collect();
    let events = unfolded.iter().filter(|l| *l == "BEGIN:VEVENT").count();
    assert_eq!(uids.iter().collect::<std::collections::BTreeSet<_>>().len(), events);
    let work: usize = calendar.entries.iter().map(|e| e.sessions.len()).sum();
    assert_eq!(unfolded.iter().filter(|l| *l == "TRANSP:OPAQUE").count(), work);
    assert!(unfolded.iter().any(|l| l.starts_with("SUMMARY:") && l.contains("Zo\u{eb}\\, Anna\\; \\\\ and")));
    assert!(unfolded.contains(&format!("DTSTART;VALUE=DATE:{}", calendar.finished.day().compact())));
}

#[test]
fn without_start_and_prices_only_the_makers_sheet_is_written() {
    let kit = crate::write::kit(&sample::plan(180.0, 0.0)).expect("a kit");
    let paths = kit.files.iter().map(|f| f.path.as_str()).filter(|p| p.starts_with("finish/"));
    assert_eq!(paths.collect::<Vec<_>>(), [maker_sheet::FILE]);
}
