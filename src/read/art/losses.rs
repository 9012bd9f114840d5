//! What usvg would drop or change without a word, found in the XML and listed.
//!
//! Imports: read::art, read::art::{cost, css}.

use super::cost::{href, url_names};
use super::{Loss, NotCut, css};
use roxmltree::{Document, Node};
use std::collections::{BTreeMap, BTreeSet};

/// Elements that hold definitions: what is in them is drawn only where it is referred to.
const HOLDERS: [&str; 9] =
    ["defs", "clipPath", "mask", "pattern", "marker", "symbol", "filter", "linearGradient", "radialGradient"];

/// Elements that a `switch` may choose from.
const DRAWN: [&str; 18] = [
    "path",
    "rect",
    "circle",
    "ellipse",
    "line",
    "polyline",
    "polygon",
    "g",
    "a",
    "use",
    "svg",
    "text",
    "image",
    "foreignObject",
    "switch",
    "title",
    "desc",
    "metadata",
];

/// Where things are, for people: line and element.
pub struct Places {
    starts: Vec<usize>,
}

impl Places {
    /// Of a text.
    pub fn new(text: &str) -> Places {
        let newlines = text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1);
        Places { starts: std::iter::once(0).chain(newlines).collect() }
    }
    /// `line 12, <style>` of something in a text that begins at byte `at`.
    fn of_text(&self, at: usize) -> String {
        format!("line {}, <style>", self.starts.partition_point(|s| *s <= at))
    }
    /// `line 12, <text id="title">`.
    pub fn of(&self, node: &Node) -> String {
        let line = self.starts.partition_point(|s| *s <= node.range().start);
        let id = node.attribute("id").map(|id| format!(" id=\"{id}\"")).unwrap_or_default();
        format!("line {line}, <{}{id}>", node.tag_name().name())
    }
}

struct Scan<'a, 'i, 'p> {
    ids: BTreeMap<&'a str, Node<'a, 'i>>,
    used: BTreeSet<&'a str>,
    places: &'p Places,
    out: Vec<NotCut>,
}

/// Everything in a document that will not be cut, or will be cut otherwise than it is drawn.
pub fn losses(doc: &Document, places: &Places) -> Vec<NotCut> {
    let mut scan = Scan { ids: BTreeMap::new(), used: BTreeSet::new(), places, out: Vec::new() };
    for node in doc.descendants().filter(Node::is_element) {
        if let Some(id) = node.attribute("id") {
            scan.ids.entry(id).or_insert(node);
        }
        scan.used.extend(href(&node).and_then(|h| h.trim().strip_prefix('#')));
        for a in node.attributes().filter(|a| a.value().contains("url(")) {
            scan.used.extend(url_names(a.value()));
        }
    }
    scan.children(doc.root(), true);
    scan.out
}

/// A presentation property of an element itself: its `style` wins over its attribute.
pub fn property<'a>(node: &Node<'a, '_>, name: &str) -> Option<&'a str> {
    let style = node.attribute("style");
    let declared = style.and_then(|s| css::declarations(s).rfind(|(n, _)| *n == name)).map(|(_, v)| v);
    declared.or_else(|| node.attribute(name)).map(|v| v.trim_end_matches("!important").trim())
}

impl<'a, 'i> Scan<'a, 'i, '_> {
    fn add(&mut self, how: Loss, node: &Node, what: &str, why: impl Into<String>) {
        self.out.push(NotCut { what: what.to_owned(), why: why.into(), place: self.places.of(node), how });
    }
    fn children(&mut self, parent: Node<'a, 'i>, drawn: bool) {
        for node in parent.children() {
            if node.is_pi() && node.pi().is_some_and(|p| p.target == "xml-stylesheet") {
                self.add(
                    Loss::CutPlain,
                    &node,
                    "style sheet of another file",
                    "files outside the drawing are never opened",
                );
            }
            let ours = matches!(node.tag_name().namespace(), None | Some("http://www.w3.org/2000/svg"));
            if node.is_element() && ours {
                self.element(node, drawn);
            }
        }
    }
    fn element(&mut self, node: Node<'a, 'i>, drawn: bool) {
        let tag = node.tag_name().name();
        let referred = node.attribute("id").is_some_and(|id| self.used.contains(id));
        let drawn = (drawn && !HOLDERS.contains(&tag)) || referred;
        if tag == "style" {
            let text: String = node.children().filter_map(|c| c.text()).collect();
            self.sheet(&node, &text);
            if text.contains("@import") || text.contains("@font-face") {
                self.add(
                    Loss::CutPlain,
                    &node,
                    "style sheet or font of another file",
                    "files outside the drawing are never opened",
                );
            }
            return;
        }
        if !drawn {
            return self.children(node, false);
        }
        if property(&node, "display") == Some("none") {
            let has_shapes =
                node.descendants().any(|n| n.is_element() && n != node) || node.parent().is_some();
            if has_shapes {
                self.add(
                    Loss::LeftOut,
                    &node,
                    "hidden part",
                    "it is switched off in the drawing (display: none)",
                );
            }
            return;
        }
        if !self.kind(&node, tag) {
            return;
        }
        self.properties(&node);
        self.children(node, true);
    }
    /// What of a style sheet is not followed.
    fn sheet(&mut self, node: &Node<'a, 'i>, text: &str) {
        let first = node.first_child().map_or(node.range().start, |c| c.range().start);
        for (at, (what, why)) in css::sheet(text) {
            let place = self.places.of_text(first + at);
            self.out.push(NotCut { what: what.to_owned(), why, place, how: Loss::CutPlain });
        }
    }
    /// What of an element's own attributes and style is not followed.
    fn unfollowed(&mut self, node: &Node<'a, 'i>) {
        let root = node.parent().is_some_and(|p| p.is_root());
        // The root's own size is that of the page.
        let of_page = |name: &str| root && matches!(name, "width" | "height");
        let style = css::declarations(node.attribute("style").unwrap_or(""))
            .filter(|(n, _)| !of_page(n))
            .filter_map(|(n, v)| css::declaration(n, v));
        let own = node
            .attributes()
            .filter(|a| a.namespace().is_none() && !of_page(a.name()))
            .filter_map(|a| css::attribute(a.name(), a.value().trim()));
        let found: Vec<css::Ignored> = style.chain(own).collect();
        for (what, why) in found {
            self.add(Loss::CutPlain, node, what, why);
        }
    }
    /// Does a gradient have colours, of its own or by reference?
    fn has_stops(&self, gradient: &Node<'a, 'i>) -> bool {
        let mut here = *gradient;
        for _ in 0..16 {
            if here.children().any(|c| c.tag_name().name() == "stop") {
                return true;
            }
            let next = href(&here).and_then(|h| self.ids.get(h.trim().trim_start_matches('#')));
            let Some(next) = next else { return false };
            here = *next;
        }
        false
    }
    /// Reports by what the element is; `false` where nothing inside needs to be looked at.
    fn kind(&mut self, node: &Node<'a, 'i>, tag: &str) -> bool {
        match tag {
            "text" | "flowRoot" => {
                self.words(node);
                false
            }
            "image" | "feImage" => {
                self.add(
                    Loss::LeftOut,
                    node,
                    "picture",
                    "a picture of pixels has no outline to cut: trace it in the drawing",
                );
                false
            }
            "foreignObject" | "video" | "audio" | "iframe" | "canvas" => {
                self.add(Loss::LeftOut, node, "foreign content", "it is not SVG drawing");
                false
            }
            "script" => {
                self.add(
                    Loss::LeftOut,
                    node,
                    "script",
                    "scripts are never run: what they would draw is missing",
                );
                false
            }
            "animate" | "animateTransform" | "animateMotion" | "animateColor" | "set" => {
                self.add(Loss::CutPlain, node, "animation", "the still drawing is cut");
                false
            }
            "symbol" if node.has_attribute("transform") => {
                self.add(Loss::CutPlain, node, "moved symbol", "the transform of a symbol is not followed");
                true
            }
            "switch" => {
                let child =
                    node.children().filter(Node::is_element).find(|c| !DRAWN.contains(&c.tag_name().name()));
                if let Some(child) = child {
                    let why =
                        format!("<{}> is passed over, and the next choice is cut", child.tag_name().name());
                    self.add(Loss::CutPlain, node, "unknown choice", why);
                }
                true
            }
            "use" => {
                match href(node).map(str::trim) {
                    Some(h) if !h.starts_with('#') => self.add(
                        Loss::LeftOut,
                        node,
                        "drawing of another file",
                        format!("\"{h}\" is not opened: files outside the drawing never are"),
                    ),
                    Some(h) if !self.ids.contains_key(&h[1..]) => self.add(
                        Loss::LeftOut,
                        node,
                        "reference to nothing",
                        format!("there is no element with the id \"{}\"", &h[1..]),
                    ),
                    _ => {}
                }
                true
            }
            _ => true,
        }
    }
    fn words(&mut self, node: &Node<'a, 'i>) {
        let text: String = node.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect();
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if !text.is_empty() {
            let shown: String = text.chars().take(40).collect();
            let why = "needs a font, and a drawing brings none: turn it into paths in the drawing, or letter it in \
                the job";
            self.add(Loss::LeftOut, node, "text", format!("\"{shown}\" {why}"));
        }
    }
    fn properties(&mut self, node: &Node<'a, 'i>) {
        self.unfollowed(node);
        if property(node, "vector-effect").is_some_and(|v| v.contains("non-scaling-stroke")) {
            self.add(
                Loss::CutPlain,
                node,
                "stroke of fixed width",
                "its width grows and shrinks with the drawing here (vector-effect is not followed)",
            );
        }
        for name in ["fill", "stroke"] {
            let Some(value) = property(node, name) else { continue };
            for id in url_names(value) {
                let known = self.ids.get(id).is_some_and(|t| match t.tag_name().name() {
                    "linearGradient" | "radialGradient" => self.has_stops(t),
                    kind => kind == "pattern",
                });
                if !known {
                    self.add(
                        Loss::CutPlain,
                        node,
                        "unknown paint",
                        format!(
                            "{name} refers to \"{id}\", \
                        which is no gradient with colours and no pattern here: its fallback colour counts, \
                        and without one nothing is cut"
                        ),
                    );
                }
            }
        }
        for id in property(node, "filter").into_iter().flat_map(url_names) {
            if self.ids.get(id).is_none_or(|t| t.tag_name().name() != "filter") {
                let why = format!(
                    "its filter \"{id}\" is not in the drawing: take the filter off, and the shape is cut"
                );
                self.add(Loss::LeftOut, node, "shape with a missing filter", why);
            }
        }
        for name in ["clip-path", "mask"] {
            if let Some(value) = property(node, name).filter(|v| v.starts_with("url(")) {
                let id = url_names(value).next();
                if !id.is_some_and(|id| self.ids.contains_key(id)) {
                    self.add(
                        Loss::CutPlain,
                        node,
                        "unknown clip or mask",
                        format!("{name}: {value} is not followed; the whole shape is cut"),
                    );
                }
            }
        }
    }
}
