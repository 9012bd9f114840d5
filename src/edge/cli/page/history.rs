//! [`History`]: the texts that a job had, to go back to and forth again: what changed between two of them, not
//! the texts themselves.
//!
//! Imports: none.

use std::collections::VecDeque;

/// How many steps are kept.
pub const STEPS: usize = 1000;

/// What one step changed.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Change {
    what: String,
    at: usize,
    before: String,
    after: String,
}

impl Change {
    fn between(what: &str, old: &str, new: &str) -> Change {
        let (a, b) = (old.as_bytes(), new.as_bytes());
        let mut head = a.iter().zip(b).take_while(|(x, y)| x == y).count();
        while !(old.is_char_boundary(head) && new.is_char_boundary(head)) {
            head -= 1;
        }
        let most = (a.len() - head).min(b.len() - head);
        let mut tail = a.iter().rev().zip(b.iter().rev()).take(most).take_while(|(x, y)| x == y).count();
        while !(old.is_char_boundary(a.len() - tail) && new.is_char_boundary(b.len() - tail)) {
            tail -= 1;
        }
        let (before, after) = (old[head..a.len() - tail].to_owned(), new[head..b.len() - tail].to_owned());
        Change { what: what.to_owned(), at: head, before, after }
    }
    fn back(&self, text: &str) -> String {
        spliced(text, self.at, self.after.len(), &self.before)
    }
    fn forth(&self, text: &str) -> String {
        spliced(text, self.at, self.before.len(), &self.after)
    }
}

fn spliced(text: &str, at: usize, out: usize, new: &str) -> String {
    let mut made = String::with_capacity(text.len() + new.len());
    made.push_str(&text[..at]);
    made.push_str(new);
    made.push_str(&text[at + out..]);
    made
}

/// Steps back and steps forth again.
#[derive(Clone, Debug, Default)]
pub struct History {
    done: VecDeque<Change>,
    undone: Vec<Change>,
}

impl History {
    /// A step: what it is called, and the texts before and after it.
    pub fn step(&mut self, what: &str, old: &str, new: &str) {
        self.undone.clear();
        self.done.push_back(Change::between(what, old, new));
        if self.done.len() > STEPS {
            self.done.pop_front();
        }
    }
    /// As [`Self::step`], but one step with the last, if that is called the same: a field while it is typed.
    pub fn step_on(&mut self, what: &str, old: &str, new: &str) {
        let last = self.done.back().filter(|c| c.what == what && self.undone.is_empty());
        match last.map(|c| c.back(old)) {
            Some(start) => {
                self.done.pop_back();
                self.done.push_back(Change::between(what, &start, new));
            }
            None => self.step(what, old, new),
        }
    }
    /// The text before the last step; it is taken as undone only by [`Self::went_back`].
    pub fn back(&self, text: &str) -> Option<String> {
        self.done.back().map(|c| c.back(text))
    }
    /// The last step is undone.
    pub fn went_back(&mut self) {
        self.undone.extend(self.done.pop_back());
    }
    /// The text after the step that was undone last.
    pub fn forth(&self, text: &str) -> Option<String> {
        self.undone.last().map(|c| c.forth(text))
    }
    /// The step that was undone last is done again.
    pub fn went_forth(&mut self) {
        self.done.extend(self.undone.pop());
    }
    /// What the next step back would undo, and the next step forth would do again.
    pub fn names(&self) -> (Option<&str>, Option<&str>) {
        (self.done.back().map(|c| c.what.as_str()), self.undone.last().map(|c| c.what.as_str()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Property: steps back give the texts before, in their order, and steps forth those after.
        #[test]
        fn back_and_forth_gives_every_text_again(texts in prop::collection::vec("[aé\u{1F33E}\n=1]{0,12}", 2..40)) {
            let mut h = History::default();
            for pair in texts.windows(2) {
                h.step("edit", &pair[0], &pair[1]);
            }
            let mut now = texts[texts.len() - 1].clone();
            for want in texts.iter().rev().skip(1) {
                now = h.back(&now).expect("a step");
                h.went_back();
                prop_assert_eq!(&now, want);
            }
            prop_assert!(h.back(&now).is_none());
            for want in &texts[1..] {
                now = h.forth(&now).expect("a step");
                h.went_forth();
                prop_assert_eq!(&now, want);
            }
            prop_assert!(h.forth(&now).is_none());
        }
    }

    #[test]
    fn a_thousand_steps_are_kept_and_a_new_one_ends_the_way_forth() {
        let mut h = History::default();
        let text = |i: usize| format!("a = {i}\n");
        for i in 0..STEPS + 5 {
            h.step(&format!("step {i}"), &text(i), &text(i + 1));
        }
        let mut now = text(STEPS + 5);
        for _ in 0..STEPS {
            now = h.back(&now).expect("a step");
            h.went_back();
        }
        assert_eq!((now.as_str(), h.back(&now)), ("a = 5\n", None));
        h.step("another", &now, "b = 1\n");
        assert_eq!(h.names(), (Some("another"), None));
    }
}
