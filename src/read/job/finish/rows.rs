//! Keys of `[finish]` and its tables.
//!
//! Imports: base, read::job, read::job::{keys, finish}, read::job::finish::{bench, model, usual}.

use super::super::keys::{Key, Own, Part, Seconds, Table, table};
use super::bench::{Coarseness, VolumeUnit};
use super::model::{Basis, FilmCharge, MOST_CUPS, ProductKind, StepKind};
use super::usual::defaults;
use crate::base::moment::Minutes;
use crate::base::money::{Decimal, Money, Share};
use crate::base::units::{Grams, Ml, Mm};

const PRICE: [Money; 2] = [Money::ZERO, Money(Decimal::from_parts(1_000_000, 0, 0, false, 0))];
const CENT: Money = Money(Decimal::from_parts(1, 0, 0, false, 2));
const THOUSAND: Money = Money(Decimal::from_parts(1000, 0, 0, false, 0));
const fn percent(of: u32) -> Share {
    Share(Decimal::from_parts(of, 0, 0, false, 2))
}
/// Longest time that a product may take for anything.
const LONGEST: Minutes = Minutes::days(90);
const NOW: Minutes = Minutes(0);
const BY_KIND: &str = "by its kind";

table! { "finish", false, "Coats, hours and prices; a value is bare, or `{ is = 35, basis = \"own measurement\" }`.";
    BASIS: Basis = Key::new(
        "basis",
        "What the values of this table stand on that do not say it themselves.",
        "\"entered\"",
    )
        .or(Basis::Entered);
    CUPS: u64 = Key::new("cups", "Good cups ordered.", "1").within(1, MOST_CUPS).or(1);
    LOSS: Part = Key::new("loss", "Part of a mixed coating that does not stay on the cup, in percent.", "35")
        .within(Part(0.0), Part(0.9)).or(Part(defaults::LOSS));
    SANDING_MARGIN: Mm = Key::new(
        "sanding-margin",
        "What may be sanded off the last coat without reaching film.",
        "0.15",
    )
        .within(Mm(0.0), Mm(3.0)).or(defaults::SANDING);
    VOLUMES: VolumeUnit = Key::new(
        "volumes",
        "In what volumes are told: \"us fl oz\" stand beside the millilitres.",
        "\"ml\"",
    )
        .or(VolumeUnit::Ml);
    LOG: Own = Key::new(
        "log",
        "Bench logs beside the job, as `frusta log` writes them: your own rates follow from them.",
        "[\"bench-log.csv\"]",
    )
        .kind("a list of files").allowed("up to 20").usually("none");
    SPELLING: Own = Key::new(
        "spelling",
        "Words on the cup that the customer is to check letter by letter.",
        "[\"Marrow\"]",
    )
        .kind("a list of texts").allowed("up to 60").usually("none");
    PRODUCT: Own = Key::new("product", "Coatings and powders, a table each.", "[]").kind("tables");
    BAND: Own = Key::new("band", "Colour and glitter bands by height, a table each.", "[]").kind("tables");
    STEP: Own = Key::new(
        "step",
        "What is done, in order, a table each; without any, film on the bare blank and its coats.",
        "[]",
    )
        .kind("tables");
    TIMES: Own = Key::new("times", "When you work, and how long things take.", "{}").kind("a table");
    BASE: Own = Key::new("base", "The disc on the base and your mark.", "{}").kind("a table").usually("none");
    QUOTE: Own = Key::new("quote", "The head and the words of the quote.", "{}").kind("a table").usually("none");
    PRICE_TABLE: Own = Key::new(
        "price",
        "What things cost and what you earn; without it there is no quote.",
        "{}",
    )
        .kind("a table").usually("none");
}
pub mod rate {
    //! Keys of a value that says its basis.
    use super::*;
    pub static IS: Key<Own> = Key::new("is", "The value.", "1").lacks("its value");
    pub static BASIS: Key<Basis> = Key::new("basis", "What the value stands on.", "\"own measurement\"");
}
pub mod product {
    //! Keys of a product.
    use super::*;
    table! { "finish.product", true, "A coating or powder with the numbers of its data sheet.";
        BASIS: Basis = Key::new(
            "basis",
            "What the values of this table stand on that do not say it themselves.",
            "\"data sheet\"",
        )
            .or(Basis::Entered);
        NAME: String = Key::needed("name", "what it is called", "What it is called.", "\"clear resin\"");
        KIND: ProductKind = Key::new(
            "kind",
            "What kind of product it is: cautions and times follow from it.",
            "\"two-part resin\"",
        )
            .lacks("what kind of product it is");
        MIX: Own = Key::new("mix", "Parts of A and of B by volume.", "[1, 1]")
            .kind("two numbers").allowed("more than 0, up to 10000")
            .lacks("how its two parts are mixed: parts of A and of B by volume");
        MIX_BY_WEIGHT: Own = Key::new("mix-by-weight", "Parts of A and of B by weight.", "[100, 88]")
            .kind("two numbers").allowed("more than 0, up to 10000");
        DENSITY: Own = Key::new(
            "density",
            "Grams per millilitre; of A and of B, where two parts are mixed.",
            "[1.13, 1]",
        )
            .kind("a number, or two").allowed("0.1 to 10").usually(BY_KIND);
        POT_LIFE: Minutes = Key::new("pot-life", "How long a mixed batch can be worked.", "\"30 min\"")
            .within(Minutes(1), Minutes::hours(72)).usually(BY_KIND);
        SMALLEST: Ml = Key::new("smallest", "Smallest amount that may be mixed at once.", "10")
            .within(Ml(0.0), Ml(5000.0)).usually(BY_KIND);
        RATIO_TOLERANCE: Part = Key::new(
            "ratio-tolerance",
            "How far the mixing ratio may be off, in percent.",
            "2",
        )
            .within(Part(0.001), Part(0.2)).usually(BY_KIND);
        VOLUME_STEP: Ml = Key::new("volume-step", "Smallest step of your measuring cup.", "1")
            .within(Ml(0.01), Ml(100.0)).usually(BY_KIND);
        WEIGHT_STEP: Grams = Key::new("weight-step", "Smallest step of your scale.", "0.1")
            .within(Grams(0.001), Grams(50.0)).usually(BY_KIND);
        TURNING: Minutes = Key::new("turning", "How long the cup must keep turning.", "\"5 h\"")
            .within(NOW, LONGEST).usually(BY_KIND);
        RECOAT_FROM: Minutes = Key::new(
            "recoat-from",
            "Earliest next coat, after this one was put on.",
            "\"8 h\"",
        )
            .within(NOW, LONGEST).usually(BY_KIND);
        RECOAT_UNTIL: Minutes = Key::new(
            "recoat-until",
            "Latest next coat without washing and abrading first, or \"none\".",
            "\"24 h\"",
        )
            .within(NOW, LONGEST).usually(BY_KIND);
        HARD: Minutes = Key::new("hard", "When it can be sanded or take film.", "\"24 h\"")
            .within(NOW, LONGEST).usually(BY_KIND);
        CURED: Minutes = Key::new("cured", "When the cup can be used.", "\"5 d\"")
            .within(NOW, LONGEST).usually(BY_KIND);
        OPEN: Minutes = Key::new(
            "open",
            "How long glitter sticks to it after it was put on, where it is an adhesive.",
            "\"15 min\"",
        )
            .within(Minutes(1), Minutes::hours(24)).usually(BY_KIND);
        LAMP: Seconds = Key::new(
            "lamp",
            "Of UV resin: under your lamp, for an area that it lights all at once, such as a base.",
            "\"3 min 30 s\"",
        )
            .within(Seconds(1.0), Seconds(36_000.0)).usually(BY_KIND);
        LIGHTS: f64 = Key::new(
            "lights-cm2",
            "Of UV resin: what your lamp lights at once; a larger area that turns under it takes that much longer.",
            "50",
        )
            .within(1.0, 5000.0).usually(BY_KIND);
        GRAIN: Coarseness = Key::new(
            "grain",
            "Of glitter: fine lies flat, coarse stands out and asks for a levelling coat.",
            "\"fine\"",
        )
            .or(Coarseness::Fine);
        PRICE_OF_PACK: Money = Key::new("price", "What a pack costs.", "24.90")
            .within(PRICE[0], PRICE[1]).lacks("what the pack costs");
        PACK: Own = Key::new("pack", "What a pack holds, by volume or by weight.", "\"1 l\"")
            .kind("a volume or a weight").lacks("what the pack at that price holds");
    }
    /// Density of a product of one part.
    pub static DENSITY_OF_ONE: Key<f64> =
        Key::new("density", "Grams per millilitre.", "1.1").within(0.1, 10.0);
}
pub mod band {
    //! Keys of a band.
    use super::*;
    const WALL: [Mm; 2] = [Mm(0.0), Mm(500.0)];
    table! { "finish.band", true, "A colour or glitter band by height, fading out at its edges.";
        NAME: String = Key::needed("name", "what it is called", "What it is called.", "\"gold foot\"");
        FROM: Mm = Key::new("from", "Its lower edge, up the wall from the base edge.", "0")
            .within(WALL[0], WALL[1]).lacks("its lower edge, up the wall from the base edge");
        TO: Mm = Key::new("to", "Its upper edge.", "40").within(WALL[0], WALL[1]).lacks("its upper edge");
        FADE_LOW: Mm = Key::new(
            "fade-low",
            "Within the band, above its lower edge: the cover grows evenly to full.",
            "0",
        )
            .within(WALL[0], WALL[1]).or(Mm(0.0));
        FADE_HIGH: Mm = Key::new("fade-high", "Within the band, below its upper edge.", "10")
            .within(WALL[0], WALL[1]).or(Mm(0.0));
        COLOUR: Own = Key::new("colour", "Its colour in pictures.", "\"#c48309\"")
            .kind("a colour").usually("not shown");
    }
}
pub mod step {
    //! Keys of a step.
    use super::*;
    const DAY: [Minutes; 2] = [Minutes(0), Minutes::hours(24)];
    table! { "finish.step", true, "What is done, in order.";
        BASIS: Basis = Key::new(
            "basis",
            "What the values of this table stand on that do not say it themselves.",
            "\"entered\"",
        )
            .or(Basis::Entered);
        DO: StepKind = Key::new("do", "What is done.", "\"clear coat\"").lacks("what is done in it");
        WITH: Own = Key::new("with", "The product, by its name.", "\"clear resin\"")
            .kind("a product's name").usually("the first of its kind");
        OVER: Own = Key::new(
            "over",
            "Where a coat goes: \"wall\", \"base\", \"base ring\", \"base centre\", or a band's name.",
            "\"wall\"",
        )
            .kind("a word, or a band's name").usually("wall");
        THICKNESS: Mm = Key::new(
            "thickness",
            "Thickness of the coat; or `volume`, `grams`, `weighed`.",
            "0.4",
        )
            .within(Mm(0.001), Mm(5.0)).usually("by what is done");
        VOLUME: Ml = Key::new(
            "volume",
            "How much is put on in all, loss included; \"rest\" takes what is left of the batch.",
            "\"20 ml\"",
        )
            .within(Ml(0.1), Ml(2000.0));
        GRAMS: Grams = Key::new("grams", "Grams to 100 cm2 that stay on the cup.", "1.2")
            .within(Grams(0.01), Grams(200.0));
        WEIGHED: Own = Key::new(
            "weighed",
            "Learned from one cup weighed before and after.",
            "{ before = 312.4, after = 321 }",
        )
            .kind("a table");
        COVER: Part = Key::new(
            "cover",
            "Part of the place that is covered, or of a full cover of glitter, in percent.",
            "100",
        )
            .within(Part(0.01), Part(1.0)).or(Part(1.0));
        GLITTERS: Own = Key::new(
            "glitters",
            "Several glitters on one wet adhesive, in the order in which they fall.",
            "[]",
        )
            .kind("a list of tables").usually("one: `with`");
        WATER: f64 = Key::new("water", "Parts of water to one of glue, by volume, in a glue seal.", "1")
            .within(0.0, 10.0).usually("1");
        MIXES: Ml = Key::new(
            "mix-at-once",
            "What is mixed for a load, if it is more than the coat needs; the rest is told.",
            "\"30 ml\"",
        )
            .within(Ml(0.1), Ml(5000.0));
        BATCH: String = Key::new(
            "batch",
            "Steps of one batch share what the first of them mixes; `volume = \"rest\"` takes what is left of it.",
            "\"first\"",
        );
        STIR_IN: Own = Key::new("stir-in", "Glitter stirred into the coat.", "{ with = \"gold glitter\" }")
            .kind("a table").usually("none");
        LAYER: Mm = Key::new("layer", "Thickness of the dry layer where the amount does not say it.", "0.2")
            .within(Mm(0.0), Mm(5.0)).usually("by what is done");
        LOSS: Part = Key::new("loss", "Loss of this step, in percent, if it differs from the job's.", "35")
            .within(Part(0.0), Part(0.9)).usually("the job's");
        SET_UP: Minutes = Key::new("set-up", "Hands-on time to set up, once a load.", "\"12 min\"")
            .within(DAY[0], DAY[1]).usually("by what is done");
        EACH: Minutes = Key::new("each", "Hands-on time for each cup.", "\"8 min\"")
            .within(DAY[0], DAY[1]).usually("by what is done");
        WAIT: Minutes = Key::new(
            "wait",
            "Waiting time before the next step, if it differs from the product's.",
            "\"8 h\"",
        )
            .within(NOW, LONGEST).usually("the product's");
        FILMS: Own = Key::new("films", "Films of a film step.", "[\"white\"]")
            .kind("a list of films").usually("all that no other step names");
        STEP_NAME: String = Key::new(
            "name",
            "What a film step is called: motifs, accents and decals name it as their `pass`.",
            "\"pattern\"",
        );
        DONE: bool = Key::new("done", "Already on the cup when it was measured.", "false").or(false);
    }
}
pub mod glitters {
    //! Keys of one glitter among several.
    use super::*;
    table! { "finish.step.glitters", true, "One of several glitters on one wet adhesive.";
        BASIS: Basis = Key::new("basis", "What its amount stands on.", "\"entered\"").or(Basis::Entered);
        WITH: Own = Key::new("with", "The glitter, by its name.", "\"gold glitter\"")
            .kind("a product's name").usually("the first of its kind");
        OVER: Own = Key::new("over", "Where it falls: \"wall\" or a band's name.", "\"wall\"")
            .kind("a word, or a band's name").usually("as the step");
        COVER: Part = Key::new("cover", "Part of a full cover, in percent: 40 is a light dusting.", "100")
            .within(Part(0.01), Part(1.0)).or(Part(1.0));
        GRAMS: Grams = Key::new("grams", "Grams to 100 cm2 at full cover that stay on the cup.", "1.2")
            .within(Grams(0.01), Grams(200.0)).usually("by its grain");
        WEIGHED: Own = Key::new(
            "weighed",
            "Learned from one cup weighed before and after.",
            "{ before = 312.4, after = 321 }",
        )
            .kind("a table");
    }
}
pub mod stir_in {
    //! Keys of glitter stirred into a coat.
    use super::super::usual::defaults::STIRRED;
    use super::*;
    table! { "finish.step.stir-in", false, "Glitter stirred into the coat.";
        WITH: Own = Key::new("with", "The glitter, by its name.", "\"gold glitter\"")
            .kind("a product's name").usually("the first of its kind");
        PERCENT: Part = Key::new("percent", "Its weight, in percent of the coat's.", "10")
            .within(Part(0.001), Part(0.5)).or(Part(STIRRED));
    }
}
pub mod weighed {
    //! Keys of a cup weighed before and after.
    use super::*;
    const ANY: [Grams; 2] = [Grams(0.0), Grams(10_000.0)];
    table! { "finish.step.weighed", false, "One cup weighed before and after.";
        BEFORE: Grams = Key::new("before", "Its weight before.", "312.4")
            .within(ANY[0], ANY[1]).lacks("the weight of the cup before");
        AFTER: Grams = Key::new("after", "Its weight after.", "321")
            .within(ANY[0], ANY[1]).lacks("its weight after");
        AREA: f64 = Key::new("area-cm2", "What was covered on it, in cm2.", "250")
            .within(0.5, 5000.0).usually("the surface here");
    }
}
pub mod times {
    //! Keys of the times.
    use super::*;
    const QUICK: [Seconds; 2] = [Seconds(0.0), Seconds(3600.0)];
    const LONG: [Minutes; 2] = [Minutes(0), Minutes::hours(100)];
    table! { "finish.times", false, "When you work, and how long things take.";
        BASIS: Basis = Key::new(
            "basis",
            "What the values of this table stand on that do not say it themselves.",
            "\"own measurement\"",
        )
            .or(Basis::Entered);
        START: Own = Key::new(
            "start",
            "When work can begin; without it there is no calendar.",
            "\"2026-09-01 09:00\"",
        )
            .kind("a date and a time").usually("not said");
        DUE: Own = Key::new("due", "The day on which the order must be ready.", "2026-09-12")
            .kind("a date").usually("not said");
        HOURS: Own = Key::new(
            "hours",
            "Your working hours of a week.",
            "[\"mon-fri 18:00-21:30\", \"sat 9-13\"]",
        )
            .kind("a list of spans").allowed("1 to 50").usually("mon-fri 9:00-18:00");
        OFF: Own = Key::new("off", "Days off.", "[2026-09-07]")
            .kind("a list of dates").allowed("up to 400").usually("none");
        SEATS: u64 = Key::new("seats", "How many cups your turner holds.", "1").within(1, 100).usually("1");
        WEED: Seconds = Key::new("weed", "To weed a piece.", "\"20 s\"")
            .within(QUICK[0], QUICK[1]).usually("common practice");
        PLACE: Seconds = Key::new("place", "To place a piece.", "\"40 s\"")
            .within(QUICK[0], QUICK[1]).usually("common practice");
        PANEL: Seconds = Key::new("panel", "To lay a panel by its marks.", "\"90 s\"")
            .within(QUICK[0], QUICK[1]).usually("common practice");
        GATHER: Seconds = Key::new(
            "gather",
            "To take a film of a gathered panel up onto its carrier.",
            "\"45 s\"",
        )
            .within(QUICK[0], QUICK[1]).usually("common practice");
        SHEET: Minutes = Key::new("sheet", "To load, cut and unload a sheet.", "\"6 min\"")
            .within(LONG[0], LONG[1]).usually("common practice");
        ORDER: Minutes = Key::new(
            "order",
            "Once an order: measuring, layout, talking to the customer.",
            "\"45 min\"",
        )
            .within(LONG[0], LONG[1]).usually("common practice");
        ABRADE: Minutes = Key::new(
            "abrade",
            "To wash and abrade a cup when a recoat window was missed.",
            "\"15 min\"",
        )
            .within(LONG[0], LONG[1]).usually("common practice");
    }
}
pub mod base {
    //! Keys of the base.
    use super::*;
    /// Kept clear inside the edge of the flat; common practice, no source.
    const INSET_USUAL: Mm = Mm(1.5);
    /// Gap between ring and centre; common practice, no source.
    const GAP_USUAL: Mm = Mm(1.0);
    table! { "finish.base", false, "The disc on the base and your mark.";
        BASIS: Basis = Key::new(
            "basis",
            "What the values of this table stand on that do not say it themselves.",
            "\"entered\"",
        )
            .or(Basis::Entered);
        ACROSS: Mm = Key::new("across", "Measured across the flat of the base.", "62")
            .within(Mm(10.0), Mm(480.0)).usually("from the girth at the base edge");
        INSET: Mm = Key::new("inset", "Kept clear inside the edge of the flat.", "1.5")
            .within(Mm(0.0), Mm(50.0)).or(INSET_USUAL);
        RING: Mm = Key::new("ring", "Width of the outer ring; 0 is one disc.", "0")
            .within(Mm(0.0), Mm(200.0)).or(Mm(0.0));
        GAP: Mm = Key::new("gap", "Gap between ring and centre.", "1")
            .within(Mm(0.0), Mm(50.0)).or(GAP_USUAL);
        FILM: Own = Key::new("film", "Film of the disc.", "\"white\"")
            .kind("a film's name, or \"none\": painted or sprinkled").usually("the job's only film").lacks("which film it is cut from");
        RING_FILM: Own = Key::new("ring-film", "Film of the ring.", "\"straw\"")
            .kind("a film's name, or \"none\"").usually("that of the disc").lacks("which film it is cut from");
        MARK: Own = Key::new("mark", "Your mark in the middle.", "{ art = \"art/mark.svg\", size = 20 }")
            .kind("a table").usually("none");
    }
}
pub mod mark {
    //! Keys of the mark.
    use super::*;
    table! { "finish.base.mark", false, "Your mark in the middle of the base.";
        ART: Own = Key::new("art", "The drawing: an SVG file in the job's folder.", "\"art/mark.svg\"")
            .kind("a file").lacks("which drawing it is");
        SIZE: Mm = Key::new("size", "Its longest extent.", "20")
            .within(Mm(2.0), Mm(300.0)).lacks("its longest extent");
        BORDER: Mm = Key::new("border", "Film left round the art.", "1")
            .within(Mm(0.0), Mm(30.0)).or(Mm(1.0));
        FILM: Own = Key::new("film", "Film it is cut from.", "\"straw\"")
            .kind("a film's name, or \"none\": it is printed").usually("that of the disc").lacks("which film it is cut from");
    }
}
pub mod price {
    //! Keys of the prices.
    use super::*;
    table! { "finish.price", false, "What things cost and what you earn.";
        CURRENCY: Own = Key::new(
            "currency",
            "The currency of all prices: three capital letters of ISO 4217.",
            "\"EUR\"",
        )
            .kind("text").lacks("the currency of all prices");
        HOUR: Money = Key::new("hour", "What an hour of yours costs.", "18")
            .within(PRICE[0], PRICE[1]).lacks("what an hour of yours costs");
        BLANK: Money = Key::new("blank", "A blank cup.", "9.50").within(PRICE[0], PRICE[1]).or(Money::ZERO);
        CONSUMABLES: Money = Key::new(
            "consumables",
            "Gloves, brushes, tape, mixing cups for one cup.",
            "1.20",
        )
            .within(PRICE[0], PRICE[1]).or(Money::ZERO);
        PACKING: Money = Key::new("packing", "Box and padding for one cup.", "2")
            .within(PRICE[0], PRICE[1]).or(Money::ZERO);
        FILMS: Own = Key::new("films", "What each film costs.", "{ white = { per-square-metre = 14.50 } }")
            .kind("a table of films");
        CHARGE: FilmCharge = Key::new(
            "charge",
            "By what film is charged: what is bought, or the area of the pieces.",
            "\"bought\"",
        )
            .or(FilmCharge::Bought);
        WASTE: Share = Key::new("waste", "Added to the area of pieces for waste, in percent.", "15")
            .within(Share::ZERO, percent(500)).or(percent(15));
        OVERHEAD: Share = Key::new("overhead", "Rent, power, tools: percent of materials and labour.", "10")
            .within(Share::ZERO, percent(1000)).or(Share::ZERO);
        REJECT: Share = Key::new("reject", "Percent of cups that fail.", "5")
            .within(Share::ZERO, percent(90)).or(Share::ZERO);
        FEE_FIXED: Money = Key::new("fee-fixed", "Fee of the sale, once an order.", "0.30")
            .within(PRICE[0], PRICE[1]).or(Money::ZERO);
        FEE: Share = Key::new("fee", "Fee of the sale, in percent of the price.", "6.5")
            .within(Share::ZERO, percent(1000)).or(Share::ZERO);
        MARGIN: Share = Key::new("margin", "What you earn, in percent of the price; or `markup`.", "25")
            .within(Share::ZERO, percent(1000)).usually("0 %");
        MARKUP: Share = Key::new("markup", "What you earn, in percent of the cost; or `margin`.", "33")
            .within(Share::ZERO, percent(100_000));
        TAX: Share = Key::new("tax", "Tax added to the price, in percent.", "20")
            .within(Share::ZERO, percent(100)).or(Share::ZERO);
        ROUND_TO: Money = Key::new("round-to", "Prices are rounded up to a multiple of this.", "0.50")
            .within(CENT, THOUSAND).or(CENT);
        BREAKS: Own = Key::new("breaks", "Numbers of cups to name a price for.", "[1, 6, 12]")
            .kind("a list of whole numbers").allowed("1 to 500, up to 20 of them").usually("none");
        VALID: Own = Key::new("valid", "For how many days the quote holds.", "30")
            .kind("a whole number, or days").allowed("1 to 3650").usually("30");
    }
}
pub mod quote {
    //! Keys of the quote's head.
    use super::*;
    table! { "finish.quote", false, "The head of the quote, the deposit, and its words in your own language.";
        MAKER: String = Key::new("maker", "Your name, or your workshop's.", "\"The potting shed\"");
        ADDRESS: Own = Key::new("address", "Your address, line by line.", "[\"3 Plot Lane\", \"Greenfield\"]")
            .kind("a text, or a list of lines").allowed("up to 8 lines").usually("none");
        CUSTOMER: Own = Key::new("customer", "Whom it is for, line by line.", "[\"Allotment society\"]")
            .kind("a text, or a list of lines").allowed("up to 8 lines").usually("none");
        DEPOSIT: Share = Key::new("deposit", "Percent of what is to pay that is paid with the order.", "30")
            .within(Share::ZERO, percent(100)).or(Share::ZERO);
        LOGO: Own = Key::new("logo", "Your logo: an SVG file beside the job.", "\"art/logo.svg\"")
            .kind("a file").usually("none");
        LANGUAGE: String = Key::new("language", "Language of the sheet, for screen readers.", "\"en\"");
        WORDS: Own = Key::new("words", "Words in the place of the usual ones.", "{ quote = \"Quote\" }")
            .kind("a table").usually("those of the program");
    }
}
pub mod quote_words {
    //! Words of the quote.
    use super::*;
    macro_rules! words {
        ($($name:ident $key:literal $word:literal;)*) => {
            table! { "finish.quote.words", false, "Words of the quote; what is left out stays as it is.";
                $($name: String = Key::text($key, $word, "In the place of the word of the quote.", concat!("\"", $word, "\""));)*
            }
            /// All of them.
            pub static ALL: &[&Key<String>] = &[$(&$name),*];
            /// The usual word for a key.
            pub fn usual(key: &str) -> &'static str {
                match key {
                    $($key => $word,)*
                    _ => "",
                }
            }
        };
    }
    words! {
        QUOTE "quote" "Quote";
        OF "of" "of";
        VALID_UNTIL "valid-until" "valid until";
        FROM_WHOM "from-whom" "from";
        FOR_WHOM "for-whom" "for";
        WHAT_YOU_GET "what-you-get" "What you get";
        DETAILS "details" "details";
        PRICE "price" "Price";
        CUPS "cups" "Cups";
        EACH "each" "each";
        TOGETHER "together" "together";
        TAX "tax" "tax";
        TO_PAY "to-pay" "to pay";
        DEPOSIT "deposit" "deposit with the order";
        THE_REST "the-rest" "the rest when it is ready";
        APPROVAL "approval" "Approval";
        CUP "cup" "cup";
        DECORATION "decoration" "decoration";
        GLITTER "glitter" "glitter";
        COLOUR_BANDS "colour-bands" "colour bands";
        FINISH "finish" "finish";
        BASE "base" "base";
        RIM "rim" "rim";
        READY "ready" "ready";
        CHECK "check" "Please check each letter, capital, accent and number. What you approve is what is cut.";
        AS_IT_STANDS "as-it-stands" "right as it stands";
        CHANGE_TO "change-to" "to be mended to";
        APPROVED "approved" "Spelling, picture and price approved:";
        NAME "name" "name";
        DATE "date" "date";
        SIGNATURE "signature" "signature";
    }
}
pub mod film_price {
    //! Keys of a film's price.
    use super::*;
    table! { "finish.price.films", true, "What a film costs; headed by the film's name.";
        PER_SHEET: Money = Key::new("per-sheet", "A sheet of it.", "2.40").within(PRICE[0], PRICE[1]);
        PER_METRE: Money = Key::new("per-metre", "A running metre of the roll.", "4.20")
            .within(PRICE[0], PRICE[1]);
        PER_SQUARE_METRE: Money = Key::new("per-square-metre", "A square metre of it.", "14.50")
            .within(PRICE[0], PRICE[1]).lacks("what the film costs");
    }
}
