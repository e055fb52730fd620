//! Answers given lately: a page that moves a control back and forth, or asks for several pictures, gets them at once.
//!
//! The same question has the same answer to the last byte, so nothing here goes stale. Those who ask the same at the same
//! time take turns, and the first one's answer serves all.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// Answers kept of each kind [-]; one has some 100 kB.
const MAX: usize = 64;
/// Longest question that is kept [bytes]; a usual case has a tenth of it.
const QUESTION_MAX: usize = 16 << 10;

/// Turn of those who ask the same.
type Turn = tokio::sync::Mutex<()>;

/// Answers given lately, the latest last, and the questions being asked.
pub(super) struct Cache<T> {
    answers: Mutex<VecDeque<(String, Arc<T>)>>,
    turns: Mutex<HashMap<String, Weak<Turn>>>,
}

impl<T> Cache<T> {
    pub(super) fn new() -> Self {
        Self { answers: Mutex::new(VecDeque::new()), turns: Mutex::new(HashMap::new()) }
    }

    /// The turn of a question, shared by all who ask it now; whoever holds it looks for the answer first.
    pub(super) fn turn(&self, question: &str) -> Arc<Turn> {
        let mut turns = self.turns.lock().unwrap_or_else(PoisonError::into_inner);
        turns.retain(|_, turn| turn.strong_count() > 0);
        if let Some(turn) = turns.get(question).and_then(Weak::upgrade) {
            return turn;
        }
        let turn = Arc::new(Turn::new(()));
        turns.insert(question.to_owned(), Arc::downgrade(&turn));
        turn
    }

    /// The answer to a question, when it was given lately.
    pub(super) fn get(&self, question: &str) -> Option<Arc<T>> {
        let mut answers = self.answers.lock().ok()?;
        let place = answers.iter().position(|(known, _)| known == question)?;
        let found = answers.remove(place)?;
        let answer = found.1.clone();
        answers.push_back(found);
        Some(answer)
    }

    /// Keeps an answer; the one not asked for longest goes.
    pub(super) fn put(&self, question: String, answer: Arc<T>) {
        let Ok(mut answers) = self.answers.lock() else { return };
        if question.len() <= QUESTION_MAX {
            answers.push_back((question, answer));
        }
        if answers.len() > MAX {
            answers.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Arc, Cache, MAX, QUESTION_MAX};

    #[test]
    fn property_what_is_asked_for_stays_and_memory_is_bounded() {
        let cache = Cache::new();
        for number in 0..2 * MAX {
            cache.put(number.to_string(), Arc::new(number));
            assert_eq!(cache.get("0").as_deref(), Some(&0), "0 was asked for last");
        }
        assert_eq!(cache.get("1"), None);
        assert_eq!(cache.answers.lock().unwrap().len(), MAX);
        let long = "x".repeat(QUESTION_MAX + 1);
        cache.put(long.clone(), Arc::new(1));
        assert_eq!(cache.get(&long), None);
    }

    #[test]
    fn property_a_question_has_one_turn_while_somebody_asks_it() {
        let cache = Cache::<u32>::new();
        let first = cache.turn("a");
        assert!(Arc::ptr_eq(&first, &cache.turn("a")) && !Arc::ptr_eq(&first, &cache.turn("b")));
        drop(first);
        drop(cache.turn("c"));
        assert_eq!(cache.turns.lock().unwrap().len(), 1, "turns that nobody takes are forgotten");
    }
}
