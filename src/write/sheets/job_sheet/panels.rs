//! What the job sheet says of panels: how they are laid, film by film.
//!
//! Imports: read::job, make::{panel, verify}, write::papers, write::sheets::job_sheet::words.

use super::words;
use crate::make::panel::Panel;
use crate::make::verify::Verified;
use crate::read::job::FilmId;
use crate::write::papers::Tick;

/// Steps of laying panels, in their order; none without panels.
pub(super) fn ticks(plan: &Verified) -> Vec<Tick> {
    let all = plan.panels();
    if all.list.is_empty() {
        return Vec::new();
    }
    let marks: usize = (0..plan.cup().zones.len()).map(|z| all.marks(z).len()).sum();
    let mut out = vec![Tick {
        message: format!("Prick the marks of the panels through the template: {marks} in all"),
        more: vec![
            "Before any film is laid. They lie where no film comes, and all films use the same.".to_owned(),
            "In film they are small triangles, cut with the first piece of each panel: lift them off the carrier once \
             they are traced."
                .to_owned(),
        ],
        cautions: Vec::new(),
    }];
    // The film with most pieces first: its panels carry the truth of the marks.
    let mut films: Vec<(usize, FilmId)> = (0..plan.job().films.len())
        .map(|f| {
            let alone = all.of_film(FilmId(f)).filter(|p| p.part.is_none());
            (alone.map(|p| p.members.len()).sum(), FilmId(f))
        })
        .filter(|f| f.0 > 0)
        .collect();
    films.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    for (pieces, film) in films {
        let own: Vec<_> = all.of_film(film).filter(|p| p.part.is_none()).collect();
        let mut more = vec![format!(
            "All round the cup before the next film: cut the sheet apart along the carriers, weed, lay each on its paper \
             and trace its marks; lift it, lay it by the two ringed marks, peel the carrier along the wall.{}",
            words::on_each(plan.cups())
        )];
        more.extend(own.iter().map(|p| {
            let numbers: Vec<u32> = p.members.iter().map(|m| m.number).collect();
            let by_eye = if p.off.is_none() { "; by eye, no room for two marks" } else { "" };
            format!("Panel {}: pieces {}{by_eye}.", p.number, words::numbers(&numbers))
        }));
        let name = &plan.job().films[film.0].name;
        let count = if own.len() == 1 { "1 panel".to_owned() } else { format!("{} panels", own.len()) };
        out.push(Tick {
            message: format!("Lay the panels of {name}: {count}, {pieces} pieces"),
            more,
            cautions: Vec::new(),
        });
    }
    out.extend(gathered(plan));
    if let Some(n) = all.narrowest {
        let last = out.len() - 1;
        out[last].more.push(format!(
            "With the marks of every panel met as truly as the job says, no gap falls below {:.2} mm (pieces {} and {}, \
             {:.2} mm as laid out).",
            n.left.0, n.pieces[0], n.pieces[1], n.gap.0
        ));
    }
    out
}

/// Taking films up and laying them together; none where nothing is gathered.
fn gathered(plan: &Verified) -> Option<Tick> {
    let all = plan.panels();
    let own: Vec<&Panel> = all.layings().filter(|p| p.part.is_some()).collect();
    let asked = plan.job().films[own.first()?.film.0].cut.lay.panel;
    let pieces = |p: &Panel| all.parts(p).iter().map(|p| p.members.len()).sum::<usize>();
    let mut more = vec![format!(
        "Panel by panel: cut its part out of each film's sheet along the carrier, weed. Lay the carrier on the first \
         part and trace the part's marks, lift; lay it on the next one so that its traced marks meet that part's \
         within {}, lift; when all films are on it, compare it with the panel's map and lay it on the wall by the two \
         ringed marks. The triangles themselves come off the carrier before.{}",
        asked.on_carrier,
        words::on_each(plan.cups())
    )];
    if let Some(n) = all.on_carrier {
        more.push(format!(
            "Films on one carrier come no nearer to each other than {:.2} mm so (pieces {} and {}, {:.2} mm as laid out).",
            n.left.0, n.pieces[0], n.pieces[1], n.gap.0
        ));
    }
    more.extend(own.iter().map(|p| {
        let part = |p: &&Panel| {
            let numbers: Vec<u32> = p.members.iter().map(|m| m.number).collect();
            format!("{} {}", plan.job().films[p.film.0].name, words::numbers(&numbers))
        };
        let parts: Vec<String> = all.parts(p).iter().map(part).collect();
        let by_eye = if p.off.is_none() { "; by eye, no room for two marks" } else { "" };
        format!("Panel {}: {}{by_eye}.", p.number, parts.join(", then "))
    }));
    let count = if own.len() == 1 { "1 panel".to_owned() } else { format!("{} panels", own.len()) };
    Some(Tick {
        message: format!(
            "Gather and lay the panels of several films: {count}, {} pieces, {} films taken up",
            own.iter().map(|p| pieces(p)).sum::<usize>(),
            all.gatherings()
        ),
        more,
        cautions: Vec::new(),
    })
}
