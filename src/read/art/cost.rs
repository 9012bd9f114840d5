//! What a drawing would cost once its references are written out, found before usvg writes them out.
//!
//! usvg bounds none of this for clips, masks, patterns and markers: files below 6 KB take over 30 s and 2.8
//! GB. The count is memoised per element, so it takes time linear in the file.
//!
//! Imports: read::art::limits.

use super::limits::{CSS_MATCHES, DEPTH, EXPANSION};
use roxmltree::{Document, Node};
use std::collections::{BTreeMap, BTreeSet};

/// What passed a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TooMuch {
    /// Elements once all references are written out.
    Expansion(u64),
    /// Nested deeper than allowed.
    Depth,
    /// Style rules times elements.
    Css(u64),
}

/// Names inside `url(#name)` of an attribute or style text.
pub fn url_names(text: &str) -> impl Iterator<Item = &str> {
    text.split("url(").skip(1).filter_map(|rest| {
        let rest = rest.trim_start_matches([' ', '\t', '\n', '\'', '"']).strip_prefix('#')?;
        rest.split([')', '\'', '"', ' ']).next().filter(|n| !n.is_empty())
    })
}

/// The name that a `use` (or the like) refers to: `#name`.
pub fn href<'a>(node: &Node<'a, '_>) -> Option<&'a str> {
    node.attribute("href").or_else(|| node.attribute(("http://www.w3.org/1999/xlink", "href")))
}

const SHAPES: [&str; 7] = ["path", "rect", "circle", "ellipse", "line", "polyline", "polygon"];

/// References that a style sheet hands out.
#[derive(Default)]
struct Sheet {
    rules: u64,
    by_class: BTreeMap<String, BTreeSet<String>>,
    to_all: BTreeSet<String>,
}

impl Sheet {
    fn read(doc: &Document) -> Sheet {
        let mut sheet = Sheet::default();
        for style in doc
            .descendants()
            .filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "style")) || n.has_tag_name("style"))
        {
            for text in style.children().filter_map(|c| c.text()) {
                for rule in text.split('}') {
                    sheet.rule(rule);
                }
            }
        }
        sheet
    }
    fn rule(&mut self, rule: &str) {
        let Some((selectors, body)) = rule.rsplit_once('{') else { return };
        self.rules += selectors.split(',').count() as u64;
        let names: Vec<&str> = url_names(body).collect();
        for selector in selectors.split(',').filter(|_| !names.is_empty()) {
            let last = selector.split_whitespace().last().unwrap_or("");
            let set = match last.split_once('.') {
                Some((_, class)) if !class.is_empty() && !class.contains([':', '[', '#']) => {
                    let class = class.split('.').next().unwrap_or("");
                    self.by_class.entry(class.to_owned()).or_default()
                }
                _ => &mut self.to_all,
            };
            set.extend(names.iter().map(|n| (*n).to_owned()));
        }
    }
}

struct Counter<'a, 'i> {
    ids: BTreeMap<&'a str, Node<'a, 'i>>,
    sheet: Sheet,
    /// Markers and patterns named where shapes inherit them.
    inherited: Vec<Node<'a, 'i>>,
    done: Vec<Option<(u64, usize)>>,
    open: Vec<bool>,
}

/// Checks a document against the limits.
///
/// # Errors
/// [`TooMuch`].
pub fn check(doc: &Document) -> Result<(), TooMuch> {
    let mut ids = BTreeMap::new();
    let mut nodes = 0;
    for node in doc.descendants() {
        nodes = nodes.max(node.id().get_usize() + 1);
        if let Some(id) = node.attribute("id") {
            ids.entry(id).or_insert(node);
        }
    }
    let sheet = Sheet::read(doc);
    let mut c =
        Counter { ids, sheet, inherited: Vec::new(), done: vec![None; nodes], open: vec![false; nodes] };
    let mut inherited: BTreeMap<usize, Node> = BTreeMap::new();
    for node in doc.descendants().filter(|n| n.is_element() && !SHAPES.contains(&n.tag_name().name())) {
        for (target, _) in c.references(&node) {
            if is_passed_down(&target) {
                inherited.insert(target.id().get_usize(), target);
            }
        }
    }
    c.inherited = inherited.into_values().collect();
    let (count, depth) = c.count(doc.root(), 0)?;
    if depth > DEPTH + 1 {
        return Err(TooMuch::Depth);
    }
    if count > EXPANSION {
        return Err(TooMuch::Expansion(count));
    }
    let css = c.sheet.rules.saturating_mul(count);
    if css > CSS_MATCHES { Err(TooMuch::Css(css)) } else { Ok(()) }
}

fn is_passed_down(target: &Node) -> bool {
    matches!(target.tag_name().name(), "marker" | "pattern")
}

fn is_gradient(node: &Node) -> bool {
    matches!(node.tag_name().name(), "linearGradient" | "radialGradient")
}

/// Vertices of a shape, at most: half the numbers of its data.
fn vertices(node: &Node) -> u64 {
    let data = node.attribute("d").or_else(|| node.attribute("points")).unwrap_or("0 0 0 0");
    let mut numbers = 0;
    let mut inside = false;
    for b in data.bytes() {
        let digit = b.is_ascii_digit() || b == b'.';
        numbers += u64::from(digit && !inside);
        inside = digit;
    }
    numbers / 2 + 2
}

impl<'a, 'i> Counter<'a, 'i> {
    /// What an element refers to, and whether by `href`.
    fn references(&self, node: &Node<'a, 'i>) -> Vec<(Node<'a, 'i>, bool)> {
        let mut out = Vec::new();
        let mut add = |name: &str, by_href: bool| out.extend(self.ids.get(name).map(|n| (*n, by_href)));
        if let Some(name) = href(node).and_then(|h| h.trim().strip_prefix('#')) {
            add(name, true);
        }
        for a in node.attributes().filter(|a| a.value().contains("url(")) {
            url_names(a.value()).for_each(|n| add(n, false));
        }
        for class in node.attribute("class").unwrap_or("").split_whitespace() {
            self.sheet.by_class.get(class).into_iter().flatten().for_each(|n| add(n, false));
        }
        self.sheet.to_all.iter().for_each(|n| add(n, false));
        out.retain(|(n, _)| !is_gradient(n));
        out
    }
    /// Elements below and at a node with all references written out, and how deep they nest.
    fn count(&mut self, node: Node<'a, 'i>, level: usize) -> Result<(u64, usize), TooMuch> {
        let i = node.id().get_usize();
        if let Some(done) = self.done[i] {
            return Ok(done);
        }
        if level > DEPTH + 1 {
            return Err(TooMuch::Depth);
        }
        if self.open[i] {
            // A reference back to what it lies in: usvg cuts these loops.
            return Ok((0, 0));
        }
        self.open[i] = true;
        let (mut sum, mut deepest) = (1u64, 0);
        for child in node.children().filter(Node::is_element) {
            let (n, d) = self.count(child, level + 1)?;
            sum = sum.saturating_add(n);
            deepest = deepest.max(d);
        }
        if node.is_element() {
            let shape = SHAPES.contains(&node.tag_name().name());
            let mut targets = self.references(&node);
            if shape {
                targets.extend(self.inherited.iter().map(|n| (*n, false)));
            }
            for (target, by_href) in targets {
                if !by_href && !shape && is_passed_down(&target) {
                    continue;
                }
                let (n, d) = self.count(target, level + 1)?;
                let times = if target.tag_name().name() == "marker" { vertices(&node) } else { 1 };
                sum = sum.saturating_add(n.saturating_mul(times));
                deepest = deepest.max(d);
            }
        }
        self.open[i] = false;
        self.done[i] = Some((sum, deepest + 1));
        Ok((sum, deepest + 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check_text(body: &str) -> Result<(), TooMuch> {
        let text = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink'>{body}</svg>"
        );
        check(&Document::parse(&text).expect("xml"))
    }
    /// Ten levels of `element`, each naming the one below ten times by `refer`.
    fn bomb(element: &str, refer: impl Fn(usize) -> String) -> String {
        let mut s = format!("<{element} id='a0'><rect width='1' height='1'/></{element}>");
        for i in 1..10 {
            s += &format!("<{element} id='a{i}'>{}</{element}>", refer(i - 1).repeat(10));
        }
        s + &refer(9)
    }

    #[test]
    fn bombs_of_every_kind_of_reference_are_refused() {
        let rect =
            |attribute: &str, i: usize| format!("<rect width='1' height='1' {attribute}='url(#a{i})'/>");
        for (kind, text) in [
            ("use", bomb("g", |i| format!("<use href='#a{i}'/>"))),
            ("xlink use", bomb("g", |i| format!("<use xlink:href='#a{i}'/>"))),
            ("clip", bomb("clipPath", |i| rect("clip-path", i))),
            ("mask", bomb("mask", |i| rect("mask", i))),
            ("pattern", bomb("pattern", |i| rect("fill", i))),
            ("style", bomb("mask", |i| format!("<rect width='1' height='1' style='mask:url(#a{i})'/>"))),
            ("marker", bomb("marker", |i| format!("<path d='M0 0 1 1' marker-end='url(#a{i})'/>"))),
        ] {
            assert!(matches!(check_text(&text), Err(TooMuch::Expansion(n)) if n > 470_000), "{kind}");
        }
    }

    #[test]
    fn a_style_sheet_does_not_hide_a_bomb() {
        let mut s = String::from("<style>");
        for i in 0..10 {
            s += &format!(".c{i}{{mask:url(#a{i})}}");
        }
        s += "</style>";
        s += &bomb("mask", |i| format!("<rect width='1' height='1' class='c{i}'/>"));
        assert!(matches!(check_text(&s), Err(TooMuch::Expansion(_))));
    }

    #[test]
    fn markers_passed_down_from_a_group_are_counted_at_each_vertex() {
        let marker = format!("<marker id='m'>{}</marker>", "<rect/>".repeat(100));
        let path = format!("<path d='M0 0{}'/>", " 1 1".repeat(2000));
        assert!(check_text(&format!("{marker}{path}")).is_ok());
        assert!(check_text(&format!("{marker}<g marker-mid='url(#m)'>{path}</g>")).is_err());
    }

    #[test]
    fn depth_counts_through_references_and_loops_end() {
        let mut s = String::from("<g id='a0'/>");
        for i in 1..400 {
            s += &format!("<g id='a{i}'><use href='#a{}'/></g>", i - 1);
        }
        assert_eq!(check_text(&s), Err(TooMuch::Depth));
        assert_eq!(check_text("<g id='a'><use href='#a'/></g>"), Ok(()));
        assert_eq!(check_text(&format!("{}{}", "<g>".repeat(300), "</g>".repeat(300))), Err(TooMuch::Depth));
    }

    #[test]
    fn a_style_sheet_of_many_rules_is_refused() {
        let rules: String = (0..20_000).map(|i| format!(".r{i}{{fill:red}}")).collect();
        let s = format!("<style>{rules}</style>{}", "<rect/>".repeat(5000));
        assert!(matches!(check_text(&s), Err(TooMuch::Css(_))));
    }
}
