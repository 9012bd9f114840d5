//! All integration tests in one binary: one link, one place. Modules are named by what they hold.

mod cli;
mod architecture;
mod packages;
mod page;
mod papers;
mod passes;
mod planned;
mod curved;
mod edges;
mod printed;
mod promises;
mod seam;
mod published;
mod orders;
mod readme;
mod recut;
mod replace;
mod art;
mod bench_log;
mod bench_order;
mod own_rates;
mod trade_facts;
mod demo_art;
mod job;
mod keys;
mod finish;
mod decal;
mod kernel_corpus;
mod width;

mod nest;
mod nest_film;
mod kernel_fuzz;
mod kernel_round;
use kernel_corpus as corpus;
mod kernel;
mod outline_figures;
