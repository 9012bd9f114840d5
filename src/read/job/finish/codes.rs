//! What can be wrong with a job's `[finish]` section, as `frusta explain` tells it.
//!
//! Imports: base.

use crate::base::diag::Code;

macro_rules! codes {
    ($($name:ident $id:literal $title:literal $explain:literal)*) => {
        $(#[doc = $title] pub const $name: Code = Code { id: $id, title: $title, explain: $explain };)*
        /// All codes of this section's reader.
        pub const CODES: &[&Code] = &[$(&$name),*];
    };
}

codes! {
    NAME_TAKEN "finish/name-taken" "A product's or a band's name that cannot be used"
    "Steps name products and bands, so no two products and no two bands share a name, and no band is called \
        wall, base, base ring or base centre, which a step's `over` means already."
    UNKNOWN_PRODUCT "finish/unknown-product" "A product that the job does not have"
    "A step's `with` names a [[finish.product]] of the same job. Without `with` a step takes the first \
        product of its kind; where there is none, one is assumed with the numbers of common practice, and a \
        note says so."
    WRONG_PRODUCT "finish/wrong-product" "A step with a product that it cannot be done with"
    "Clear coats are done with a two-part resin, a UV resin or an isocyanate clear coat; paint with paint; \
        an adhesive with glue, UV resin or two-part resin; a glue seal with glue; glitter with glitter."
    NOT_THIS_STEP "finish/not-for-this-step" "A key that does not belong to a step of this kind"
    "Only coats have a product, an amount and a place; only film steps name films. `thickness`, `volume`, \
        `grams` and `weighed` are four ways to say the amount, of which a step has one at most."
    NOT_THIS_PRODUCT "finish/not-for-this-product" "A key that does not belong to a product of this kind"
    "`lamp` and `lights-cm2` say how long UV resin hardens under your lamp: an area that the lamp lights all at \
        once takes `lamp`, a larger one that turns under it takes longer by as much as it is larger. `grain` is \
        of glitter: fine or coarse."
    BATCH "finish/batch" "A batch that its steps cannot share"
    "Steps with the same `batch` are served from one mix: the first of them mixes it, all with the same \
        product. `volume = \"rest\"` stands in the last of them and takes what the others leave."
    UNKNOWN_BAND "finish/unknown-band" "A place that is neither wall, nor base, nor a band of the job"
    "A coat's `over` says what it covers: \"wall\" (from the base edge to the rim's keep-clear band, as \
        without `over`), \"base\", its two zones \"base ring\" and \"base centre\" ([finish.base] says how wide \
        the ring is), or the name of a [[finish.band]]."
    BAND "finish/band-upside-down" "A band without room between its edges"
    "`from` is the lower edge of a band, `to` the upper one, both up the wall from the base edge. Its fades \
        lie within it, so that the two together are no wider than the band."
    WEIGHED "finish/weighed-the-wrong-way" "A coated cup that weighs no more than the bare one"
    "`weighed` learns an amount from one cup: its weight before the coat and after it, in grams, and the \
        area that was covered if it is not the same as here."
    WINDOW_EMPTY "finish/window-empty" "A recoat window that closes before it opens"
    "`recoat-from` is the earliest time for the next coat, `recoat-until` the latest without washing and \
        abrading first, both counted from the end of this coat. The data sheet gives both; write \
        recoat-until = \"none\" if it sets no limit."
    MIX "finish/mix-disagrees" "Mixing ratio by volume, by weight and the densities do not agree"
    "By weight the ratio of B to A is that by volume times the ratio of the densities: 2:1 by volume is \
        100:47 by weight if B has 0.94 of A's density. A label that gives both ratios gives the ratio of \
        the densities as well. A wrong ratio never hardens: look at the data sheet again before you mix."
    HOURS "finish/working-hours" "Working hours that cannot be read or overlap"
    "Hours are a list of texts, each a day or a run of days and a span of the clock: \"mon-fri \
        18:00-21:30\", \"sat 9:00-13:00\". Times are of the 24-hour clock; a span ends later than it \
        begins; spans of one day do not overlap."
    NOTHING_LEFT "finish/nothing-left-of-the-price" "Fees and margin take the whole price"
    "The price is (cost + fixed fee) / (1 - fee - margin), fee and margin being shares of the price. If the \
        two come to 100 percent or more, no price covers the cost. A markup is a share of the cost and may \
        be above 100 percent: it is the margin markup / (1 + markup)."
    PRICE_BY "finish/film-priced-the-wrong-way" "A film priced in a way that it is not sold"
    "Film that comes in sheets is priced per-sheet or per-square-metre, film on a roll per-metre or \
        per-square-metre."
}
