//! `frusta open` from outside, over plain sockets: the job is edited and saved as asked, and every attack on the
//! server is tried.
//!
//! What a server of one person on one machine must refuse: RFC 9112 (one Host, no absolute target but to a
//! proxy), RFC 6454 (origins are compared whole), and the Fetch standard's `Sec-Fetch-Site`.

mod attacks;
mod client;
mod edits;
