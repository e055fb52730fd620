//! Several jobs share the labour of taking the member out: which are done together, and when?
//!
//! A visit costs its set-up once, however many jobs it holds; each job has a cost by year. Up to [`MAX_EXACT`] jobs
//! every set partition is looked at, each group in its best year (Bell number of 8: 4,140). Beyond that pairs of groups
//! are merged as long as a merger saves money, the greatest saving first; that plan need not be the best.
//! Penalty functions about a due year: an idea of opportunistic group replacement (Dekker, Wildeman and others).

use crate::decision::cost::Interest;

/// Most jobs for which the best plan is certain [-].
pub const MAX_EXACT: usize = 8;

/// A job that needs the member out.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitJob {
    /// Name for people.
    pub name: String,
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
    /// A job with a due year and penalties for years `0..=last`; everything is paid in the year of the job.
    #[must_use]
    pub fn due(name: &str, due: JobTiming, (last, interest): (usize, Interest)) -> Self {
        let cost = |year: usize| {
            let off = year as f64 - due.due_a;
            let penalty = due.early_per_a * (-off).max(0.0) + due.late_per_a * off.max(0.0);
            (due.cost + penalty) * interest.factor(year as f64)
        };
        Self { name: name.to_owned(), present_cost: (0..=last).map(cost).collect() }
    }
}

/// Jobs done in one year.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedVisit {
    /// Years from now [a].
    pub year: usize,
    /// Places of the jobs in the list.
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
    let mut best: Vec<(f64, Vec<usize>)> = Vec::new();
    split(sets - 1, &groups, (&mut Vec::new(), 0.0), &mut best);
    best.into_iter().map(|(_, sets)| sets.iter().map(|set| groups[*set].clone()).collect()).collect()
}

/// Splits what is left: the group of its first job is each set that holds it.
fn split(
    left: usize,
    groups: &[JobGroup],
    (taken, cost): (&mut Vec<usize>, f64),
    best: &mut Vec<(f64, Vec<usize>)>,
) {
    if left == 0 {
        best.push((cost, taken.clone()));
        best.sort_by(|a, b| a.0.total_cmp(&b.0));
        best.truncate(2);
        return;
    }
    let first = left & left.wrapping_neg();
    let others = left & !first;
    let mut rest = others;
    loop {
        let set = first | rest;
        taken.push(set);
        split(left & !set, groups, (taken, cost + groups.get(set).map_or(0.0, |g| g.cost)), best);
        taken.pop();
        if rest == 0 {
            return;
        }
        rest = (rest - 1) & others;
    }
}

/// Groups merged in pairs while that saves money.
fn merged(mut groups: Vec<JobGroup>, group: &dyn Fn(Vec<usize>) -> JobGroup) -> Vec<JobGroup> {
    loop {
        let mut best: Option<(f64, usize, usize, JobGroup)> = None;
        for (first, a) in groups.iter().enumerate() {
            for (second, b) in groups.iter().enumerate().skip(first + 1) {
                let both = group([a.jobs.clone(), b.jobs.clone()].concat());
                let saving = a.cost + b.cost - both.cost;
                if saving > best.as_ref().map_or(0.0, |best| best.0) {
                    best = Some((saving, first, second, both));
                }
            }
        }
        let Some((_, first, second, both)) = best else { return groups };
        groups.swap_remove(second);
        groups[first] = both;
    }
}
