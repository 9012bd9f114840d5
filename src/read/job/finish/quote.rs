//! `[finish.quote]`: who offers to whom, the deposit, the logo, and the words of the sheet in the job's own language.
//!
//! Imports: base, read::job::{section, path}, read::job::finish::{model, rows}.

use super::super::path::art;
use super::super::section::{Item, Section};
use super::model::QuoteSpec;
use super::rows::{quote as rows, quote_words};
use crate::base::diag::ErrorGuaranteed;

/// Reads the table.
pub(super) fn quote(section: &Section<'_>) -> Result<QuoteSpec, ErrorGuaranteed> {
    let maker = section.key(&rows::MAKER).optional();
    let lines =
        |item: &Item<'_>| if item.is_list() { item.list(Item::text) } else { item.text().map(|t| vec![t]) };
    let address = section.own(&rows::ADDRESS, lines).counting(0..=8, "lines").or(Vec::new());
    let customer = section.own(&rows::CUSTOMER, lines).counting(0..=8, "lines").or(Vec::new());
    let deposit = section.key(&rows::DEPOSIT).or_usual();
    let logo = section.own(&rows::LOGO, art).optional();
    let language = section.key(&rows::LANGUAGE).optional();
    let words = section.inner(&rows::WORDS, |s| {
        let all = quote_words::ALL.iter().map(|k| Ok((k.row.name, s.key(k).optional()?)));
        let read: Vec<Result<_, ErrorGuaranteed>> = all.collect();
        read.into_iter().collect::<Result<Vec<_>, _>>()
    });
    let words = words?.unwrap_or_default();
    Ok(QuoteSpec {
        maker: maker?,
        address: address?,
        customer: customer?,
        deposit: deposit?,
        logo: logo?,
        logo_svg: None,
        language: language?,
        words: words.into_iter().filter_map(|(k, w)| Some((k, w?))).collect(),
    })
}
