//! Verdicts, made on a thread of their own: the page answers at once, and the verdict follows.

use crate::subject::Subject;
use dryjoint_session::Session;
use dryjoint_verdict::{Inquiry, Next, Pairs, Verdict};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

/// A session to weigh, with the count of entries it comes from.
struct Question {
    weighed: usize,
    session: Session,
}

/// A verdict on a session.
#[derive(Clone, Debug)]
pub struct Opinion {
    /// The count of entries that it is on.
    pub weighed: usize,
    /// Who could have caused what was seen.
    pub verdict: Verdict,
    /// What to do next, where anything promises to tell more.
    pub next: Option<Next>,
    /// Pairs of faults, where no single one fits.
    pub pairs: Option<Pairs>,
}

/// Whoever weighs.
#[derive(Debug)]
pub struct Weigher {
    questions: Sender<Question>,
}

/// More than this for "none of these", and two faults at once are tried.
const NONE_FITS: f64 = 0.5;

impl Weigher {
    /// Starts weighing; `tell` hears of each opinion. It ends when the weigher is dropped.
    pub fn start(subject: Subject, tell: impl Fn(Arc<Opinion>) + Send + 'static) -> Self {
        let (questions, asked) = channel();
        std::thread::spawn(move || work(subject, &asked, &tell));
        Self { questions }
    }

    /// Asks for an opinion; an older question that nobody has begun on is dropped.
    pub fn ask(&self, weighed: usize, session: Session) {
        // Where the thread is gone there is no opinion, and the page says that it waits.
        let _ = self.questions.send(Question { weighed, session });
    }
}

fn work(subject: Subject, asked: &Receiver<Question>, tell: &dyn Fn(Arc<Opinion>)) {
    let mut inquiry = Inquiry::new(subject.study, subject.priors);
    while let Ok(question) = asked.recv() {
        let Question { weighed, session } = asked.try_iter().last().unwrap_or(question);
        let verdict = inquiry.weigh(&session);
        let next = inquiry.next(subject.procedure, subject.costs, &session, &verdict);
        let unfit = verdict.none_of_these > NONE_FITS && !verdict.surprises.is_empty();
        let opinion = Opinion { weighed, verdict, next, pairs: None };
        tell(Arc::new(opinion.clone()));
        if unfit {
            let pairs = inquiry.pairs(&session);
            tell(Arc::new(Opinion { pairs: Some(pairs), ..opinion }));
        }
    }
}
