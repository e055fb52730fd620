//! Several jobs share the labour of taking the member out: which are done together, and when?
//!
//! A visit costs its set-up once, however many jobs it holds; each job has a cost by year. Up to [`MAX_EXACT`] jobs
//! every set partition is evaluated, each group in its best year (Bell number of 8: 4,140). Beyond that, pairs of groups
//! are merged as long as a merger saves money, the greatest saving first; such a plan need not be the best.
//! Penalty functions about a due year: an idea of opportunistic group replacement (Dekker, Wildeman and others).

use crate::decision::cost::Interest;

/// Most jobs for which the best plan is certain [-].
pub const MAX_EXACT: usize = 8;

/// A job that needs the member out.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitJob {
    /// Present value of doing it in year 0, 1, 2 …, without the set-up [currency].
    pub present_cost: Vec<f64>,
}

/// When a job is due and what it costs to be off that year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JobTiming {
    /// Cost of the job [currency].
    pub cost: f64,
    /// Years from now until it is due [a].
    pub due_a: f64,
    /// Cost of each year it is done early [currency/a].
    pub early_per_a: f64,
    /// Cost of each year it is done late [currency/a].
    pub late_per_a: f64,
}

impl VisitJob {
    /// A job with a due time and penalties, for years `0..=last`; everything is paid in the year of the job.
    #[must_use]
    pub fn due(due: JobTiming, last: usize, interest: Interest) -> Self {
        let cost = |year: usize| {
            let off = year as f64 - due.due_a;
            let penalty = due.early_per_a * (-off).max(0.0) + due.late_per_a * off.max(0.0);
            (due.cost + penalty) * interest.factor(year as f64)
        };
        Self { present_cost: (0..=last).map(cost).collect() }
    }
}

/// Jobs done in one year.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedVisit {
    /// Years from now [a].
    pub year: usize,
    /// Indices of the jobs in the list, from 0 on.
    pub jobs: Vec<usize>,
    /// Present value of set-up and jobs [currency].
    pub present_cost: f64,
}

/// Visits in order of time and what they cost together.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitPlan {
    /// The visits.
    pub visits: Vec<SharedVisit>,
    /// Present value [currency].
    pub present_cost: f64,
}

/// The best plan, the best of another grouping where the search was exact, and each job by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitPlans {
    /// The best plan found.
    pub best: VisitPlan,
    /// The best plan with the jobs grouped another way; `None` for one job or beyond [`MAX_EXACT`].
    pub next: Option<VisitPlan>,
    /// Each job in its own best year with its own set-up.
    pub alone: VisitPlan,
    /// Whether no better plan exists.
    pub exact: bool,
}

impl VisitPlans {
    /// Present value of what a visit of the best plan saves over each of its jobs by itself [currency].
    #[must_use]
    pub fn saving(&self, visit: &SharedVisit) -> f64 {
        let alone =
            self.alone.visits.iter().filter(|alone| alone.jobs.iter().all(|job| visit.jobs.contains(job)));
        alone.map(|alone| alone.present_cost).sum::<f64>() - visit.present_cost
    }
}

/// Best plan for jobs that share a set-up; `None` without jobs or years.
///
/// - `setup`: cost of a visit [currency], discounted from the year it is paid in
///
/// Three jobs at 400, 300 and 350, due in years 6, 7 and 12; a year early costs 40, a year late 120; a visit costs 900, at
/// 4 %. By hand over the five partitions: all in year 7, for 1,725.01; next best the first two in year 6 and the third in
/// year 12, for 2,076.86.
///
/// ```
/// use ferrowane::decision::cost::Interest;
/// use ferrowane::decision::visits::{JobTiming, VisitJob, plan};
///
/// let interest = Interest::from_pct(4.0)?;
/// let jobs = [(400.0, 6.0), (300.0, 7.0), (350.0, 12.0)].map(|(cost, due_a)| {
///     VisitJob::due(JobTiming { cost, due_a, early_per_a: 40.0, late_per_a: 120.0 }, 30, interest)
/// });
/// let plans = plan(&jobs, 900.0, interest).ok_or("no plan")?;
/// assert_eq!((plans.best.visits[0].year, plans.best.visits[0].jobs.len()), (7, 3));
/// assert!((plans.best.present_cost - 1725.01).abs() < 0.01);
/// assert!(plans.next.is_some_and(|next| (next.present_cost - 2076.86).abs() < 0.01));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn plan(jobs: &[VisitJob], setup: f64, interest: Interest) -> Option<VisitPlans> {
    let years = jobs.iter().map(|job| job.present_cost.len()).min().filter(|years| *years > 0)?;
    let setups: Vec<f64> = (0..years).map(|year| setup * interest.factor(year as f64)).collect();
    let group = |members: Vec<usize>| JobGroup::new(jobs, &setups, members);
    let alone: Vec<JobGroup> = (0..jobs.len()).map(|job| group(vec![job])).collect();
    let exact = jobs.len() <= MAX_EXACT;
    let found = if exact { partitions(jobs.len(), &group) } else { vec![merged(alone.clone(), &group)] };
    let mut plans: Vec<VisitPlan> = found.into_iter().map(plan_of).collect();
    plans.sort_by(|a, b| a.present_cost.total_cmp(&b.present_cost));
    let mut plans = plans.into_iter();
    Some(VisitPlans { best: plans.next()?, next: plans.next(), alone: plan_of(alone), exact })
}

/// Jobs in one visit, in the year that suits them best.
#[derive(Debug, Clone)]
struct JobGroup {
    jobs: Vec<usize>,
    year: usize,
    cost: f64,
}

impl JobGroup {
    fn new(all: &[VisitJob], setups: &[f64], jobs: Vec<usize>) -> Self {
        let cost = |year: usize| {
            let at = |job: &usize| all.get(*job).and_then(|job| job.present_cost.get(year)).copied();
            setups.get(year).copied().unwrap_or(0.0) + jobs.iter().filter_map(at).sum::<f64>()
        };
        let best = (0..setups.len()).map(|year| (year, cost(year))).min_by(|a, b| a.1.total_cmp(&b.1));
        let (year, cost) = best.unwrap_or((0, 0.0));
        Self { jobs, year, cost }
    }
}

fn plan_of(groups: Vec<JobGroup>) -> VisitPlan {
    let present_cost = groups.iter().map(|group| group.cost).sum();
    let visit = |JobGroup { jobs, year, cost }| SharedVisit { year, jobs, present_cost: cost };
    let mut visits: Vec<SharedVisit> = groups.into_iter().map(visit).collect();
    visits.sort_by(|a, b| (a.year, &a.jobs).cmp(&(b.year, &b.jobs)));
    VisitPlan { visits, present_cost }
}

/// The two cheapest ways to split `count` jobs into groups.
fn partitions(count: usize, group: &dyn Fn(Vec<usize>) -> JobGroup) -> Vec<Vec<JobGroup>> {
    let sets = 1_usize << count;
    let members = |set: usize| (0..count).filter(|job| set >> job & 1 == 1).collect::<Vec<_>>();
    let groups: Vec<JobGroup> = (0..sets).map(|set| group(members(set))).collect();
    let mut best: Vec<Partial> = Vec::new();
    partition(sets - 1, &groups, &mut Partial { sets: Vec::new(), cost: 0.0 }, &mut best);
    best.into_iter().map(|found| found.sets.iter().map(|set| groups[*set].clone()).collect()).collect()
}

/// Sets of jobs chosen so far, and what they cost.
#[derive(Clone)]
struct Partial {
    sets: Vec<usize>,
    cost: f64,
}

/// Goes through all partitions of the jobs that are left: the group of the first of them is each set that holds it.
fn partition(left: usize, groups: &[JobGroup], chosen: &mut Partial, best: &mut Vec<Partial>) {
    if left == 0 {
        best.push(chosen.clone());
        best.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        best.truncate(2);
        return;
    }
    let first = left & left.wrapping_neg();
    let others = left & !first;
    let before = chosen.cost;
    let mut rest = others;
    loop {
        let set = first | rest;
        chosen.sets.push(set);
        chosen.cost = before + groups.get(set).map_or(0.0, |group| group.cost);
        partition(left & !set, groups, chosen, best);
        chosen.sets.pop();
        if rest == 0 {
            chosen.cost = before;
            return;
        }
        rest = (rest - 1) & others;
    }
}

/// Two groups that could be one.
struct Merger {
    saving: f64,
    first: usize,
    second: usize,
    both: JobGroup,
}

/// Groups merged in pairs while that saves money.
fn merged(mut groups: Vec<JobGroup>, group: &dyn Fn(Vec<usize>) -> JobGroup) -> Vec<JobGroup> {
    loop {
        let mut best: Option<Merger> = None;
        for (first, a) in groups.iter().enumerate() {
            for (second, b) in groups.iter().enumerate().skip(first + 1) {
                let both = group([a.jobs.clone(), b.jobs.clone()].concat());
                let saving = a.cost + b.cost - both.cost;
                if saving > best.as_ref().map_or(0.0, |best| best.saving) {
                    best = Some(Merger { saving, first, second, both });
                }
            }
        }
        let Some(Merger { first, second, both, .. }) = best else { return groups };
        groups.swap_remove(second);
        groups[first] = both;
    }
}
