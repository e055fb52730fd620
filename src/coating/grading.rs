//! Probability that an inspector gives a degree of rusting to a surface of known rusted area.
//!
//! Ordinal threshold model: the inspector judges the position of the area on the scale, linear in the logarithm of the area
//! between class limits, and gives the class of that position. Scales: ISO 4628-3 (`Ri 0`, no rust, to `Ri 5`) and ASTM D610
//! (`D610 10`, no rust, to `D610 0`). Class limits: `shared/rust_grades.csv`, `shared/d610_grades.csv`.
//!
//! Three things go wrong. An inspector has a lasting bias, the same for all he grades, and an error of his own at each visit,
//! both normally distributed; the published scatter is that between inspectors who looked at the same surfaces, so it is the
//! root of the sum of their squares ([`Grading::parted`]). And a small share of grades are slips, each grade as likely as any
//! other.

use crate::coating::grade::GradeScale;
use crate::error::{Error, Result};
use crate::numeric::elementary::{exp, ln};
use crate::numeric::normal::cdf_clamped;
use crate::prior::Priors;
use crate::reference;
use multiversion::multiversion;
use serde::Serialize;

const D610: &str = include_str!("../../shared/d610_grades.csv");

/// Scale of a grade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub enum Scale {
    /// ISO 4628-3: 0 no rust, 5 most.
    Ri,
    /// ASTM D610: 10 no rust, 0 most.
    D610,
}

impl Scale {
    /// Its word before the number, and its largest number [-].
    #[must_use]
    pub const fn word(self) -> (&'static str, u8) {
        match self {
            Self::Ri => ("Ri", 5),
            Self::D610 => ("D610", 10),
        }
    }

    /// Its grades, least rust first.
    pub(crate) fn by_class(self) -> impl Iterator<Item = SeenGrade> {
        let (_, most) = self.word();
        (0..=most).map(move |class| {
            let number = if self == Self::Ri { class } else { most - class };
            SeenGrade { scale: self, number }
        })
    }
}

/// A degree of rusting as seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SeenGrade {
    /// On which scale.
    pub scale: Scale,
    /// Number on it [-]
    pub number: u8,
}

impl SeenGrade {
    /// Its class counted from the least rusted, and the number of classes [-].
    pub(crate) fn class(self) -> (usize, usize) {
        let (_, most) = self.scale.word();
        let class = if self.scale == Scale::Ri { self.number } else { most.saturating_sub(self.number) };
        (usize::from(class.min(most)), usize::from(most) + 1)
    }
}

impl std::fmt::Display for SeenGrade {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.scale.word().0, self.number)
    }
}

impl Serialize for SeenGrade {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl std::str::FromStr for SeenGrade {
    type Err = Error;

    /// Reads `Ri 3` or `D610 6`.
    fn from_str(text: &str) -> Result<Self> {
        [Scale::D610, Scale::Ri]
            .into_iter()
            .find_map(|scale| {
                let (word, most) = scale.word();
                let number = text.strip_prefix(word)?.trim();
                let is_plain = number.len() <= 2 && number.bytes().all(|byte| byte.is_ascii_digit());
                let number = number.parse().ok().filter(|number| is_plain && *number <= most)?;
                Some(Self { scale, number })
            })
            .ok_or_else(|| Error::invalid("grade", text, "Ri 0 to Ri 5 or D610 0 to D610 10"))
    }
}

/// How inspectors grade.
#[derive(Debug, Clone, PartialEq)]
pub struct Grading {
    /// Logarithms of the class limits, least rusted first.
    ri: Vec<f64>,
    d610: Vec<f64>,
    d610_over_ri_sd: f64,
    slip_share: f64,
    bias_share: f64,
}

/// How inspectors judge surfaces, one of each for every surface.
#[derive(Debug, Clone, Copy)]
pub struct Judgement<'a> {
    /// Scatter [Ri grades].
    pub sd: &'a [f64],
    /// By how much an inspector's grades lie too high [Ri grades].
    pub bias: &'a [f64],
}

#[derive(serde::Deserialize)]
struct Row {
    upper_pct: f64,
}

/// Class limits of ASTM D610.
#[derive(Debug, Clone, PartialEq)]
pub struct D610Limits {
    /// Natural logarithms of the upper limits of grades 10 to 1, as shares [-].
    ln_share: Vec<f64>,
}

impl D610Limits {
    /// Reads a table with the columns of `shared/d610_grades.csv`, one row a grade from 10 to 0.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem, [`Error::Invalid`] where there are not ten rising limits.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("d610_grades.csv", text)?;
        let ln_share: Vec<f64> =
            rows[..rows.len().saturating_sub(1)].iter().map(|row| ln(row.upper_pct / 100.0)).collect();
        if ln_share.len() != 10 || ln_share.windows(2).any(|pair| pair[0] >= pair[1]) {
            let found = format!("{} limits", ln_share.len());
            return Err(Error::invalid("d610_grades.csv", found, "10 rising limits"));
        }
        Ok(Self { ln_share })
    }

    /// The limits of `shared/d610_grades.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(D610)
    }
}

impl Grading {
    /// The grading model on the class limits of both scales; of `priors` it takes the medians of `d610_over_ri_sd`,
    /// `grading_slip_share` and `inspector_bias_share`.
    ///
    /// # Errors
    /// [`Error::Invalid`] when `priors` lacks one of them.
    pub fn new(ri: &GradeScale, d610: &D610Limits, priors: &Priors) -> Result<Self> {
        Ok(Self {
            ri: ri.limits().map(ln).to_vec(),
            d610: d610.ln_share.clone(),
            d610_over_ri_sd: priors.get("d610_over_ri_sd")?.median(),
            slip_share: priors.get("grading_slip_share")?.median(),
            bias_share: priors.get("inspector_bias_share")?.median(),
        })
    }

    /// Grade of ASTM D610 whose range a rusted share lies in [-].
    ///
    /// # Examples
    /// ```
    /// let grade = ferrowane::coating::grading::Grading::published()?.d610_grade(0.005);
    /// assert_eq!(grade.to_string(), "D610 6"); // ASTM D610: more than 0.3 % and up to 1 %
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn d610_grade(&self, share: f64) -> SeenGrade {
        let passed = self.d610.iter().filter(|limit| share > 0.0 && ln(share) > **limit).count();
        SeenGrade { scale: Scale::D610, number: 10 - passed.min(10) as u8 }
    }

    /// Standard deviations of the error of a visit and of an inspector's bias, where that of both together is `sd` [Ri grades].
    #[must_use]
    pub fn parted(&self, sd: f64) -> [f64; 2] {
        [(1.0 - self.bias_share).max(0.0).sqrt() * sd, self.bias_share.max(0.0).sqrt() * sd]
    }

    /// The grading model on the published tables.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn published() -> Result<Self> {
        Self::new(&GradeScale::published()?, &D610Limits::published()?, &Priors::published()?)
    }

    /// Probability that a surface of rusted share `share` [-] is given the grade `seen` by an inspector of scatter `sd`
    /// [Ri grades].
    ///
    /// # Examples
    /// ```
    /// use ferrowane::coating::{D610Limits, GradeScale, Grading};
    /// let scale = GradeScale::published()?;
    /// let grading = Grading::new(&scale, &D610Limits::published()?, &ferrowane::prior::Priors::published()?)?;
    /// // middle of Ri 2, scatter 0.6: 2 Phi(0.5/0.6) - 1 = 0.595343, less 1 % of slips over six grades
    /// let middle = (scale.limits()[1] * scale.limits()[2]).sqrt();
    /// let expected = 0.99 * 0.595_343 + 0.01 / 6.0;
    /// assert!((grading.probability("Ri 2".parse()?, middle, 0.6) - expected).abs() < 1e-5);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn probability(&self, seen: SeenGrade, share: f64, sd: f64) -> f64 {
        let mut found = [share];
        self.probabilities(seen, &mut found, Judgement { sd: &[sd], bias: &[0.0] });
        debug_assert!((0.0..=1.0).contains(&found[0]), "probability {}", found[0]);
        found[0]
    }

    /// The same for several surfaces, each with its inspector; `shares` [-] become the probabilities [-].
    pub fn probabilities(&self, seen: SeenGrade, shares: &mut [f64], judgement: Judgement) {
        classed(&self.called(seen), shares, judgement);
    }

    /// Probability of a grade of at most, and of at least, as much rust as `seen` [-]; the rest as
    /// [`Self::probabilities`].
    #[must_use]
    pub fn tails(&self, seen: SeenGrade, shares: &[f64], judgement: Judgement) -> [Vec<f64>; 2] {
        let (mut at_most, mut at_least) = (shares.to_vec(), vec![0.0; shares.len()]);
        sided(&self.called(seen), (&mut at_most, &mut at_least), judgement);
        [at_most, at_least]
    }

    /// Rusted share from which on an inspector without error gives a grade [-], 0 where that is no rust: one order for both
    /// scales.
    #[must_use]
    pub fn least_share(&self, seen: SeenGrade) -> f64 {
        let (class, _) = seen.class();
        let (limits, _) = self.scale(seen.scale);
        class.checked_sub(1).and_then(|below| limits.get(below)).map_or(0.0, |limit| exp(*limit))
    }

    fn called(&self, seen: SeenGrade) -> Called<'_> {
        let (class, classes) = seen.class();
        let (limits, sd_factor) = self.scale(seen.scale);
        Called { limits, class, classes, sd_factor, slip_share: self.slip_share }
    }

    /// Logarithms of the class limits of a scale, and its scatter over that in Ri grades [-].
    fn scale(&self, scale: Scale) -> (&[f64], f64) {
        match scale {
            Scale::Ri => (&self.ri, 1.0),
            Scale::D610 => (&self.d610, self.d610_over_ri_sd),
        }
    }
}

/// Surfaces computed at once [-].
const WIDTH: usize = 64;

/// A class of a scale, with the class limits and the scatter that decide between it and its neighbours.
struct Called<'a> {
    limits: &'a [f64],
    class: usize,
    classes: usize,
    sd_factor: f64,
    slip_share: f64,
}

impl Called<'_> {
    /// Probabilities of this class or less rust, and of less rust, without slips [-].
    #[inline(always)]
    fn without_slips(&self, shares: &[f64], sd: &[f64], bias: &[f64]) -> [[f64; WIDTH]; 2] {
        let (mut area, mut scatter, mut shift) = ([0.0; WIDTH], [1.0; WIDTH], [0.0; WIDTH]);
        area[..shares.len()].copy_from_slice(shares);
        scatter[..sd.len()].copy_from_slice(sd);
        shift[..bias.len()].copy_from_slice(bias);
        for lane in 0..WIDTH {
            area[lane] = ln(area[lane].max(1e-9));
            scatter[lane] *= self.sd_factor;
        }
        let position = positions(self.limits, &area);
        let (upper, lower) = (self.class as f64 + 0.5, self.class as f64 - 0.5);
        let (mut at_most, mut less) = ([1.0; WIDTH], [0.0; WIDTH]);
        for lane in 0..WIDTH {
            let judged = self.sd_factor.mul_add(shift[lane], position[lane]);
            let below = |threshold: f64| cdf_clamped((threshold - judged) / scatter[lane]);
            let (upper, lower) = (below(upper), below(lower));
            at_most[lane] = if self.class + 1 == self.classes { 1.0 } else { upper };
            less[lane] = if self.class == 0 { 0.0 } else { lower };
        }
        [at_most, less]
    }

    /// Probability with slips [-] from the one without, of `classes` classes together.
    #[inline(always)]
    fn with_slips(&self, careful: f64, classes: usize) -> f64 {
        (1.0 - self.slip_share).mul_add(careful, self.slip_share * classes as f64 / self.classes as f64)
    }
}

/// Turns shares into probabilities of a class, in vector code.
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn classed(called: &Called, shares: &mut [f64], Judgement { sd, bias }: Judgement) {
    for ((shares, sd), bias) in shares.chunks_mut(WIDTH).zip(sd.chunks(WIDTH)).zip(bias.chunks(WIDTH)) {
        let [at_most, less] = called.without_slips(shares, sd, bias);
        for (lane, share) in shares.iter_mut().enumerate() {
            *share = called.with_slips((at_most[lane] - less[lane]).max(0.0), 1);
        }
    }
}

/// Turns shares, the first numbers, into probabilities of at most, and at least, a class, in vector code.
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn sided(called: &Called, (shares, at_least): (&mut [f64], &mut [f64]), Judgement { sd, bias }: Judgement) {
    let judged = sd.chunks(WIDTH).zip(bias.chunks(WIDTH));
    let chunks = shares.chunks_mut(WIDTH).zip(at_least.chunks_mut(WIDTH)).zip(judged);
    for ((shares, at_least), (sd, bias)) in chunks {
        let [at_most, less] = called.without_slips(shares, sd, bias);
        for (lane, (share, above)) in shares.iter_mut().zip(at_least).enumerate() {
            *share = called.with_slips(at_most[lane], called.class + 1);
            *above = called.with_slips(1.0 - less[lane], called.classes - called.class);
        }
    }
}

/// Positions of areas on a scale [classes]: half a class above the number of a limit at that limit, linear in the
/// logarithm of the area between limits and beyond them. A sum of bends at the limits, so that it becomes vector code.
#[inline(always)]
fn positions(ln_limits: &[f64], ln_share: &[f64; WIDTH]) -> [f64; WIDTH] {
    let slope = |low: usize| 1.0 / (ln_limits[low + 1] - ln_limits[low]);
    let mut position = [0.5; WIDTH];
    for lane in 0..WIDTH {
        position[lane] += slope(0) * (ln_share[lane] - ln_limits[0]);
    }
    for bend in 1..ln_limits.len() - 1 {
        let change = slope(bend) - slope(bend - 1);
        for lane in 0..WIDTH {
            position[lane] += change * (ln_share[lane] - ln_limits[bend]).max(0.0);
        }
    }
    position
}

#[cfg(test)]
mod tests {
    use super::{Grading, Judgement, Scale, SeenGrade, positions};

    fn all(scale: Scale) -> impl Iterator<Item = SeenGrade> {
        (0..=scale.word().1).map(move |number| SeenGrade { scale, number })
    }

    #[test]
    fn grades_read_and_print() {
        for text in ["Ri 3", "D610 10", "D610 0"] {
            assert_eq!(text.parse::<SeenGrade>().unwrap().to_string(), text);
        }
        for bad in ["Ri 6", "D610 11", "3", "Ri", "Ri +3", "Ri 003"] {
            assert!(bad.parse::<SeenGrade>().is_err(), "{bad}");
        }
    }

    #[test]
    fn closed_form_grades_of_a_scale_add_up() {
        let grading = Grading::published().unwrap();
        for scale in [Scale::Ri, Scale::D610] {
            let sum: f64 = all(scale).map(|seen| grading.probability(seen, 0.02, 0.6)).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{scale:?}");
        }
    }

    /// What is at most and at least a grade are sums of the grades on either side.
    #[test]
    fn closed_form_tails_are_sums_of_grades() {
        let grading = Grading::published().unwrap();
        for seen in all(Scale::Ri).chain(all(Scale::D610)) {
            let [at_most, at_least] =
                grading.tails(seen, &[0.004, 0.02], Judgement { sd: &[0.5, 0.6], bias: &[0.0, 0.0] });
            let sum = |counts: &dyn Fn(&SeenGrade) -> bool| -> f64 {
                all(seen.scale).filter(counts).map(|one| grading.probability(one, 0.02, 0.6)).sum()
            };
            assert!((at_most[1] - sum(&|one| one.class().0 <= seen.class().0)).abs() < 1e-12, "{seen}");
            assert!((at_least[1] - sum(&|one| one.class().0 >= seen.class().0)).abs() < 1e-12, "{seen}");
        }
    }

    /// A surface in the middle of Ri 2 graded with sd 0.6: 2 Phi(0.5/0.6) - 1 = 0.595343 (scipy), less the slips.
    #[test]
    fn closed_form_misgrading() {
        let grading = Grading::published().unwrap();
        let share = (grading.ri[1] + grading.ri[2]).mul_add(0.5, 0.0).exp();
        let found = grading.probability(SeenGrade { scale: Scale::Ri, number: 2 }, share, 0.6);
        assert!((found - (0.99 * 0.595_343_2 + 0.01 / 6.0)).abs() < 1e-6, "{found}");
    }

    /// From the lower limits of the tables: Ri 3 from sqrt(0.5 x 1) %, there rounded to 0.71 %, D610 6 from 0.3 %, no rust from
    /// nothing.
    #[test]
    fn published_grades_of_both_scales_have_one_order() {
        let grading = Grading::published().unwrap();
        let least = |text: &str| grading.least_share(text.parse().unwrap());
        assert!((least("Ri 3") - (0.005_f64 * 0.01).sqrt()).abs() < 5e-5, "{}", least("Ri 3"));
        assert!(least("Ri 0") < 1e-12 && least("D610 10") < 1e-12);
        assert!(least("Ri 2") < least("D610 6") && least("D610 6") < least("Ri 3"), "{}", least("D610 6"));
    }

    #[test]
    fn closed_form_positions() {
        let mut areas = [-2.0; super::WIDTH];
        areas[1] = -5.0;
        areas[2] = 1.0;
        let found = positions(&[-4.0, -3.0, -1.0], &areas);
        for (lane, expected) in [2.0, -0.5, 3.5].into_iter().enumerate() {
            assert!((found[lane] - expected).abs() < 1e-12, "{} not {expected}", found[lane]);
        }
    }

    /// Areas in the middle of a class of one scale are most often called the class that holds them on the other:
    /// 0.02 % is Ri 1 and D610 9, 1.5 % Ri 3 and D610 5, 5 % Ri 4 and D610 4 (limits of both tables).
    #[test]
    fn published_scales_meet_by_area() {
        let grading = Grading::published().unwrap();
        let likeliest = |scale, share| {
            let p = |seen: &SeenGrade| grading.probability(*seen, share, 0.3);
            all(scale).max_by(|a, b| p(a).total_cmp(&p(b))).unwrap().number
        };
        for (share, ri, d610) in [(0.0002, 1, 9), (0.015, 3, 5), (0.05, 4, 4), (0.4, 5, 1)] {
            assert_eq!((likeliest(Scale::Ri, share), likeliest(Scale::D610, share)), (ri, d610), "{share}");
        }
    }
}
