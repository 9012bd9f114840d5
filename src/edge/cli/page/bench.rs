//! [`Bench`]: the plan that the page shows: made from the job's text in a thread of its own, kept alive while
//! pieces are moved, and written as a kit.
//!
//! Imports: base, read::{job, materials}, make::{accent, plan, verify}, write, write::view, edge::{folder, kit},
//! edge::cli::{codes, words, stages, files}, edge::cli::page::show.

use super::super::codes::USAGE;
use super::super::stages::with_folder;
use super::super::{files, words};
use super::show;
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::units::Mm;
use crate::edge::folder::Folder;
use crate::edge::kit::{Begin, StagedKit};
use crate::make::accent;
use crate::make::plan::{self, Live, Moved, Plan, Stage};
use crate::make::verify::{Verified, verify};
use crate::read::job::{Effort, Job, MotifSpec, Placing, read_job_in};
use crate::read::materials::Materials;
use crate::write::view::mesh::{self, Lattice, Mesh};
use crate::write::view::page::{self, Turning};
use crate::write::view::scene::Scene;
use crate::write::view::texture;
use crate::write::{self, KitFile};
use serde::Serialize;
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Takes a lock, whatever became of who had it: what it guards is replaced whole.
pub fn held<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    m.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Where a worker tells what it does; false once nobody listens.
pub type Tell<'a> = &'a (dyn Fn(&Json) -> bool + Sync);

/// How long a move waits for the fills that follow it; then the whole plan is made anew.
const LONGEST_WAIT: Duration = Duration::from_secs(20);
/// How long between two looks.
const LOOK_AGAIN: Duration = Duration::from_millis(4);

/// A whole plan as a kit is made of it.
#[derive(Clone)]
pub struct Whole {
    /// The text that it was made from.
    pub text: Arc<str>,
    /// How hard film was searched; none where the search was stopped.
    pub effort: Option<Effort>,
    /// The plan.
    pub plan: Arc<Verified>,
}

/// The plan that the page shows.
#[derive(Default)]
pub struct Shown {
    /// The last whole plan.
    pub whole: Option<Whole>,
    live: Option<Live>,
    /// The job that the live plan stands for.
    job: Option<Job>,
    meshes: BTreeMap<u32, Mesh>,
    /// Has anything been moved since the whole plan?
    pub moved: bool,
    /// Are the fills that follow moves being made?
    coming: bool,
    /// Numbers the plans shown, so that a page knows whether its cup is theirs.
    pub plan: u64,
}

/// Where plans are made.
#[derive(Default)]
pub struct Bench {
    shown: Mutex<Shown>,
    /// One plan is made at a time.
    at_work: Mutex<()>,
    /// The newest asked for.
    newest: AtomicU64,
    /// Asked to keep the best film layout so far.
    enough: AtomicBool,
}

/// What a change of the text came to on the wall.
#[derive(Debug, Serialize)]
pub struct Followed {
    /// Where moved copies stand now: number, place.
    at: Vec<(u32, [f64; 3])>,
    gone: Vec<u32>,
    new: Vec<show::PieceShown>,
    clashes: Vec<(u32, f64)>,
    pinned: Vec<bool>,
    plan: u64,
}

impl Bench {
    /// The plan that is shown.
    pub fn shown(&self) -> MutexGuard<'_, Shown> {
        held(&self.shown)
    }
    /// Keeps the best film layout so far.
    pub fn enough(&self) {
        self.enough.store(true, Ordering::SeqCst);
    }
    /// Makes the whole plan of a text and shows it; tells how it goes, and at last what came of it.
    pub fn plan(&self, folder: &Path, text: &str, effort: Effort, tell: Tell<'_>) {
        let mine = self.newest.fetch_add(1, Ordering::SeqCst) + 1;
        let _turn = held(&self.at_work);
        if self.newest.load(Ordering::SeqCst) != mine || !tell(&json!({ "stage": "begins" })) {
            tell(&json!({ "stale": true }));
            return;
        }
        self.enough.store(false, Ordering::SeqCst);
        let begun = Instant::now();
        let made = self.made(folder, text, effort, tell);
        let (whole, plan, job, materials, more) = match made {
            Ok(made) => made,
            Err(found) => {
                tell(&json!({ "faults": show::found(&found) }));
                return;
            }
        };
        let live = Live::new(&plan);
        let (its_job, rooms) = (live.job().clone(), live.rooms().to_vec());
        {
            let mut shown = self.shown();
            let number = shown.plan + 1;
            *shown = Shown {
                whole: Some(whole.clone()),
                live: Some(live),
                job: Some(job.clone()),
                plan: number,
                coming: true,
                ..Shown::default()
            };
            let told = show::plan(&whole.plan, &more, true);
            let all = json!({ "plan": told, "number": number, "effort": word(whole.effort), "ms": begun.elapsed().as_millis() as u64 });
            tell(&all);
        }
        // What follows moves is made while the maker looks; a move waits for it, and for nothing else.
        let fills = accent::following(&its_job, &materials, &rooms);
        let mut shown = self.shown();
        let same = shown.job.as_ref() == Some(&job) && !shown.moved;
        if let (true, Some(live), Some(fills)) = (same, shown.live.as_mut(), fills) {
            live.follow(fills);
        }
        let follows = shown.live.as_ref().is_some_and(Live::follows);
        shown.coming = false;
        drop(shown);
        tell(&json!({ "follows": follows }));
    }

    #[allow(clippy::type_complexity, reason = "five things of one plan, taken apart at once")]
    fn made(
        &self,
        folder: &Path,
        text: &str,
        effort: Effort,
        tell: Tell<'_>,
    ) -> Result<(Whole, Plan, Job, Materials, Vec<Diagnostic>), Vec<Diagnostic>> {
        let read = with_folder(folder, |source| read_job_in(text, source));
        let mut diagnostics = read.diagnostics;
        let Some(job) = read.job else { return Err(diagnostics.into_vec()) };
        let folder = match Folder::open(folder) {
            Ok(f) => f,
            Err(e) => return Err(vec![files::no_folder(folder, &e)]),
        };
        let materials = Materials::read(&job, &folder);
        let stopped = AtomicBool::new(false);
        let hear = &mut |stage: Stage| {
            let heard = match stage {
                Stage::Begins(name) => tell(&json!({ "stage": name })),
                Stage::Rows(done, of) => tell(&json!({ "rows": { "done": done, "of": of } })),
                Stage::Film(p) => {
                    let film = job.films.get(p.film.0).map_or("", |f| f.name.as_str());
                    let enough = self.enough.load(Ordering::SeqCst);
                    stopped.fetch_or(enough, Ordering::SeqCst);
                    tell(
                        &json!({ "film": { "name": film, "step": p.step, "steps": p.steps, "sheets": p.sheets, "used": p.used.0 } }),
                    ) && !enough
                }
            };
            if heard { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        };
        let plan = plan::run(&job, &materials, effort, &mut diagnostics, hear);
        let Ok(plan) = plan else { return Err(diagnostics.into_vec()) };
        if diagnostics.any_fault() {
            return Err(diagnostics.into_vec());
        }
        let verified = verify(plan.clone())?;
        let known: Vec<&Diagnostic> = verified.diagnostics().iter().collect();
        let more: Vec<Diagnostic> =
            diagnostics.into_vec().into_iter().filter(|d| !known.contains(&d)).collect();
        let effort = (!stopped.load(Ordering::SeqCst)).then_some(effort);
        let whole = Whole { text: text.into(), effort, plan: Arc::new(verified) };
        Ok((whole, plan, job, materials, more))
    }

    /// A whole plan of a text, if that is what is shown.
    pub fn whole_of(&self, text: &str) -> Option<Whole> {
        let shown = self.shown();
        shown.whole.clone().filter(|w| &*w.text == text)
    }

    /// Follows a change of the text that only puts copies elsewhere; none where more has changed, or spots
    /// cannot follow: then the whole plan has to be made anew.
    pub fn follow(&self, job: Option<&Job>) -> Option<Followed> {
        let moves = moves(self.shown().job.as_ref()?, job?)?;
        let since = Instant::now();
        while self.shown().coming && since.elapsed() < LONGEST_WAIT {
            std::thread::sleep(LOOK_AGAIN);
        }
        let mut shown = self.shown();
        let shown = &mut *shown;
        let (live, job) = (shown.live.as_mut().filter(|l| l.follows())?, job?);
        let mut out = Followed {
            at: Vec::new(),
            gone: Vec::new(),
            new: Vec::new(),
            clashes: Vec::new(),
            pinned: show::pinned(job),
            plan: shown.plan,
        };
        for m in moves {
            let piece = live.copy(m.motif, m.copy)?;
            let (number, development) = (piece.number, live.cup().zones[piece.zone].development);
            let (low, high) = development.span();
            if m.to.slant < low || m.to.slant > high {
                // Onto another zone: no move that spots can follow.
                return None;
            }
            if piece.wall == m.to {
                continue;
            }
            shown.moved = true;
            shown.meshes.remove(&number);
            let refilled = live.move_to(m);
            out.at.push((number, show::place(m.to)));
            out.gone.extend(&refilled.gone);
            out.new.extend(refilled.new.iter().map(show::piece));
            for n in &refilled.gone {
                shown.meshes.remove(n);
            }
        }
        let stays = |n: &show::PieceShown| !out.gone.contains(&n.number());
        out.new.retain(stays);
        out.clashes = show::clashes(live);
        shown.job = Some(job.clone());
        Some(out)
    }

    /// What a copy would be too near to.
    pub fn near(&self, moved: Moved) -> Vec<show::NearShown> {
        let shown = self.shown();
        let Some(live) = &shown.live else { return Vec::new() };
        let found = live.too_near(moved.motif, moved.copy, moved.to);
        show::near(live, (moved.motif, moved.copy), &found)
    }

    /// The cup to turn: its script and what it shows, of the last whole plan.
    pub fn turning(&self) -> Result<Option<(u64, Turning)>, String> {
        let (whole, number) = {
            let shown = self.shown();
            let Some(whole) = shown.whole.clone() else { return Ok(None) };
            (whole, shown.plan)
        };
        let meshes = mesh::meshes(&whole.plan).map_err(|e| e.to_string())?;
        Ok(Some((number, page::turning(&whole.plan, &Scene::new(&whole.plan), &meshes))))
    }

    /// The pieces as they stand now, for the cup that is shown already.
    pub fn worn(&self) -> Result<Option<String>, String> {
        let mut shown = self.shown();
        let shown = &mut *shown;
        let (Some(whole), Some(live)) = (&shown.whole, &shown.live) else { return Ok(None) };
        let lattice = Lattice::of_cup(live.cup());
        let mut meshes = Vec::new();
        for p in texture::windows(&whole.plan) {
            let development = &live.cup().zones[p.zone].development;
            meshes.push(mesh::mesh(&p, development, lattice).map_err(|e| e.to_string())?);
        }
        let mut order: Vec<_> = live.pieces().collect();
        order.sort_by_key(|p| texture::painted(p, live.job()));
        for p in order {
            let mesh = match shown.meshes.get(&p.number) {
                Some(m) => m.clone(),
                None => {
                    let development = &live.cup().zones[p.zone].development;
                    let made = mesh::mesh(&texture::worn(&whole.plan, p), development, lattice);
                    let made = made.map_err(|e| e.to_string())?;
                    shown.meshes.insert(p.number, made.clone());
                    made
                }
            };
            meshes.push(mesh);
        }
        Ok(Some(page::pieces(&meshes)))
    }

    /// Writes the kit of a whole plan beside the job.
    pub fn kit(&self, whole: &Whole, out: &Path, force: bool, tell: Tell<'_>) {
        let order = whole.plan.job().order.as_ref();
        if let Some(key) =
            order.and_then(|o| o.keep.as_ref().map(|_| "keep").or(o.shelf.as_ref().map(|_| "shelf")))
        {
            let d = Diagnostic::fault(
                &USAGE,
                KeyPath::of("order").key(key),
                "the page makes kits of the job alone",
            );
            let d = d.help("`frusta make` of this job keeps the earlier kit and holds film of the shelf");
            tell(&json!({ "faults": show::found(&[d]) }));
            return;
        }
        let hear = |begin| {
            if begin == Begin::Waits {
                tell(&json!({ "stage": "waits" }));
            }
        };
        let staged = match StagedKit::new(out, force, &hear) {
            Ok(staged) => staged,
            Err(refused) => {
                tell(&json!({ "faults": show::found(&[files::unwritten(out, refused)]) }));
                return;
            }
        };
        let take = |f: KitFile| {
            staged.take(&f.path, &f.bytes);
            tell(&json!({ "file": f.path, "bytes": f.bytes.len() }));
        };
        let kit = match write::kit_with_progress(&whole.plan, None, &take) {
            Ok(kit) => kit,
            Err(broken) => {
                tell(&json!({ "faults": show::found(&broken) }));
                return;
            }
        };
        let names: Vec<&str> = kit.files.iter().map(|f| f.path.as_str()).collect();
        match staged.finish(&names) {
            Ok(said) => {
                let found: Vec<Diagnostic> =
                    kit.diagnostics.into_iter().chain(files::remarks(&said)).collect();
                let files: Vec<(&str, usize)> =
                    kit.files.iter().map(|f| (f.path.as_str(), f.bytes)).collect();
                let folder = words::plain(&out.display().to_string());
                tell(
                    &json!({ "kit": { "folder": folder, "files": files, "found": show::found(&found), "effort": word(whole.effort) } }),
                );
            }
            Err(refused) => {
                tell(&json!({ "faults": show::found(&[files::unwritten(out, refused)]) }));
            }
        }
    }
}

fn word(effort: Option<Effort>) -> &'static str {
    match effort {
        Some(Effort::Quick) => "quick",
        Some(Effort::Normal) => "normal",
        Some(Effort::Thorough) => "thorough",
        None => "stopped",
    }
}

/// The moves that make one job of another; none where anything else differs.
fn moves(old: &Job, new: &Job) -> Option<Vec<Moved>> {
    if old.motifs.len() != new.motifs.len() {
        return None;
    }
    let still = |m: &MotifSpec| MotifSpec { placing: Placing::Pinned(Vec::new()), ..m.clone() };
    let unmoved = |j: &Job| Job { motifs: j.motifs.iter().map(still).collect(), ..j.clone() };
    if unmoved(old) != unmoved(new) {
        return None;
    }
    let mut out = Vec::new();
    for (motif, (was, is)) in old.motifs.iter().zip(&new.motifs).enumerate() {
        match (&was.placing, &is.placing) {
            (a, b) if a == b => {}
            (a, Placing::Pinned(poses)) if a.count() == poses.len() => {
                out.extend(poses.iter().enumerate().map(|(copy, &to)| Moved { motif, copy, to }));
            }
            _ => return None,
        }
    }
    Some(out)
}

/// A job that asks for the wrap template only.
pub fn template_only(job: &Job) -> Job {
    Job {
        decals: Vec::new(),
        motifs: Vec::new(),
        picks: Vec::new(),
        accents: Vec::new(),
        sheets: Vec::new(),
        films: job.films.iter().take(job.films.len() - job.sheets.len()).cloned().collect(),
        ..job.clone()
    }
}

/// The wrap template of a job, whatever else is wrong with it.
pub fn template(job: &Job, folder: &Path) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    let job = template_only(job);
    let folder = Folder::open(folder).map_err(|e| vec![files::no_folder(folder, &e)])?;
    let materials = Materials::read(&job, &folder);
    let mut diagnostics = Diagnostics::new();
    let go_on = &mut |_| ControlFlow::Continue(());
    let plan = plan::run(&job, &materials, Effort::Quick, &mut diagnostics, go_on);
    let Ok(plan) = plan else { return Err(diagnostics.into_vec()) };
    write::template(&verify(plan)?)
}

/// The pose that a page names: degrees, mm, degrees.
pub fn pose([azimuth, up, turn]: [f64; 3]) -> crate::read::job::WallPose {
    use crate::base::units::Angle;
    let wrapped = |deg: f64| Angle::degrees(deg).wrapped();
    crate::read::job::WallPose { azimuth: wrapped(azimuth), slant: Mm(up), turn: wrapped(turn) }
}
