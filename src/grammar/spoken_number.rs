//! Numbers and amounts in words.

use super::wording::{Whole, Wording};
use crate::measure::{Amount, Decimal, Length, LengthUnit, Unit};

impl Wording {
    /// A number, digit by digit.
    #[must_use]
    pub fn number(&self, figures: &str) -> String {
        let word = |c: char| match c.to_digit(10) {
            Some(d) => self.digits.get(d as usize).cloned().unwrap_or_default(),
            None => self.point.clone(),
        };
        figures.chars().map(word).collect::<Vec<_>>().join(" ")
    }

    /// A whole number that counts something: "twenty four", "eleven hundred".
    #[must_use]
    pub fn whole(&self, number: u32) -> String {
        let Some(Whole {
            small,
            tens,
            hundred,
            and,
        }) = &self.whole
        else {
            return self.number(&number.to_string());
        };
        let at = |words: &[String], i: u32| words.get(i as usize).cloned().unwrap_or_default();
        match (number / 100, number % 100) {
            (0, ..20) => at(small, number),
            (0, rest) if rest % 10 == 0 => at(tens, rest / 10 - 2),
            (0, rest) => format!("{} {}", at(tens, rest / 10 - 2), at(small, rest % 10)),
            (hundreds @ 1..100, 0) => format!("{} {hundred}", self.whole(hundreds)),
            (hundreds @ 10..100, rest @ 10..) => {
                format!("{} {}", self.whole(hundreds), self.whole(rest))
            }
            (hundreds @ 1..10, rest) => {
                let words = format!("{} {hundred} {and}", at(small, hundreds));
                format!("{} {}", words.trim_end(), self.whole(rest))
            }
            _ => self.number(&number.to_string()),
        }
    }

    /// A decimal: "point one five", "two point six oh", "eleven point five". Only what stands behind the
    /// point is said digit by digit; in the long forms all of it.
    fn decimal(&self, figures: &str) -> String {
        let Some(oh) = &self.oh else {
            return self.number(figures);
        };
        let whole = |figures: &str| match figures.parse() {
            Ok(number @ ..1_000) => self.whole(number),
            _ => self.number(figures),
        };
        let Some((before, fraction)) = figures.split_once('.') else {
            return whole(figures);
        };
        let digit = |c: char| match c {
            '0' => oh.clone(),
            c => self.number(&c.to_string()),
        };
        let before = Some(before).filter(|w| *w != "0").map(whole);
        let words = before.into_iter().chain([self.point.clone()]);
        words
            .chain(fraction.chars().map(digit))
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// A cylinder's number in words.
    #[must_use]
    pub fn cylinder(&self, number: u8) -> String {
        self.cylinders
            .get(usize::from(number).wrapping_sub(1))
            .cloned()
            .unwrap_or_else(|| self.number(&number.to_string()))
    }

    /// A length in the unit that it is said in: "point one five", "eight thou".
    #[must_use]
    pub fn length(&self, length: Length, unit: LengthUnit) -> String {
        if matches!(unit, LengthUnit::Thou | LengthUnit::Inch) {
            let thou = length
                .to_decimal(LengthUnit::Thou, 0)
                .unwrap_or_else(|| length.rounded(LengthUnit::Thou, 1));
            let said = thou.to_string();
            let figures = match said.strip_suffix(".0").unwrap_or(&said) {
                one if one.len() == 1 && self.oh.is_none() => format!("0{one}"),
                more => more.to_owned(),
            };
            return format!("{} {}", self.decimal(&figures), self.thou);
        }
        let mm = length
            .to_decimal(LengthUnit::Millimetre, 2)
            .unwrap_or_else(|| length.rounded(LengthUnit::Millimetre, 3));
        self.decimal(&mm.to_string())
    }

    /// The blade that goes and the one that does not, each as much of it as must be said where one
    /// follows the other: the unit and the point once.
    pub(super) fn two_blades(
        &self,
        goes: Length,
        stops: Length,
        unit: LengthUnit,
    ) -> (String, String) {
        let (first, second) = (self.length(goes, unit), self.length(stops, unit));
        if self.oh.is_none() {
            return (first, second);
        }
        let thou = format!(" {}", self.thou);
        if let Some(bare) = first.strip_suffix(&thou) {
            return (bare.to_owned(), second);
        }
        // Two figures behind the point are hundredths in a millimetre job.
        let point = format!("{} ", self.point);
        let short = |text: &str| {
            let figures = text.strip_prefix(&point)?;
            (figures.split(' ').count() == 2).then(|| figures.to_owned())
        };
        match (short(&first), short(&second)) {
            (Some(_), Some(rest)) => (first, rest),
            _ => (first, second),
        }
    }

    /// A figure as it is kept.
    #[must_use]
    pub fn figure(&self, milli: i64) -> String {
        let text = Decimal::new(milli, 3).to_string();
        self.decimal(text.trim_end_matches('0').trim_end_matches('.'))
    }

    /// An amount with its unit, which is left out of millimetres.
    #[must_use]
    pub fn amount_words(&self, amount: Amount, unit: LengthUnit) -> String {
        let (value, unit) = self.amount(amount, unit);
        format!("{value} {unit}").trim_end().to_owned()
    }

    pub(super) fn amount(&self, amount: Amount, unit: LengthUnit) -> (String, String) {
        match amount {
            Amount::LengthNm(length) => (self.length(length, unit), String::new()),
            Amount::Milli(milli, Unit::Count) if milli % 1_000 == 0 && milli >= 0 => {
                let count = u32::try_from(milli / 1_000).unwrap_or(u32::MAX);
                let word = self.units.get(Unit::Count.sign());
                (self.whole(count), word.cloned().unwrap_or_default())
            }
            Amount::Milli(milli, unit) => {
                let word = self.units.get(unit.sign()).cloned().unwrap_or_default();
                (self.figure(milli), word)
            }
        }
    }
}
