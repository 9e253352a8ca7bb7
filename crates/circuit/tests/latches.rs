//! Boards that remember: the operating point near a guess is the guessed state, and a walk from one
//! point to the next keeps every latch that is not told otherwise. What a latch of two NOR gates does
//! is its truth table: set makes it 1, reset 0, neither keeps it.

mod soldered;

use dryjoint_board::NetId;
use dryjoint_circuit::{Method, Network, Solution, Solver, kirchhoff};
use dryjoint_units::Volts;
use proptest::prelude::*;
use soldered::Soldered;

const GATE: [f64; 3] = [2200.0, 22e3, 22e3];

/// `count` latches in a row; each has set and reset inputs `s<k>`, `r<k>`, pulled to ground by
/// nothing (an open input of this family reads low), outputs `q<k>` and `n<k>`, and its output feeds
/// two more gates, one of which also reads its neighbour.
fn row(count: usize) -> Soldered {
    let mut board = Soldered::five_volts(5.0);
    for k in 0..count {
        let name = |letter: &str| format!("{letter}{k}");
        board.nor(&name("Q"), &[&name("r"), &name("n")], &name("q"), GATE);
        board.nor(&name("N"), &[&name("s"), &name("q")], &name("n"), GATE);
        let neighbour = format!("q{}", (k + 1) % count);
        board.nor(&name("A"), &[&name("q"), &neighbour], &name("a"), GATE);
        board.nor(&name("B"), &[&name("a")], &name("b"), GATE);
    }
    board
}

fn nets(board: &mut Soldered, letter: &str, count: usize) -> Vec<NetId> {
    (0..count).map(|k| board.net(&format!("{letter}{k}"))).collect()
}

fn state(network: &Network, solution: &Solution, q: &[NetId]) -> Vec<bool> {
    q.iter()
        .map(|net| {
            let volts = solution.at(network, *net).unwrap().0;
            assert!(!(0.5..2.5).contains(&volts), "{volts} V is no level");
            volts > 2.5
        })
        .collect()
}

fn guess(q: &[NetId], n: &[NetId], bits: &[bool]) -> Vec<(NetId, Volts)> {
    let level = |bit: bool| Volts(if bit { 4.0 } else { 0.1 });
    let outs = q.iter().zip(bits).map(|(net, bit)| (*net, level(*bit)));
    outs.chain(n.iter().zip(bits).map(|(net, bit)| (*net, level(!*bit)))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_guessed_state_is_the_state_found(bits in prop::collection::vec(any::<bool>(), 1..75)) {
        let mut board = row(bits.len());
        let (q, n) = (nets(&mut board, "q", bits.len()), nets(&mut board, "n", bits.len()));
        let network = Network::of_board(&board.board);
        let solution = Solver::default().solve_near(&network, &guess(&q, &n, &bits)).unwrap();
        prop_assert!(kirchhoff(&network, &solution).0 < 1e-9);
        prop_assert_eq!(state(&network, &solution, &q), bits);
    }

    #[test]
    fn a_walk_changes_only_the_latch_it_is_told_to(bits in prop::collection::vec(any::<bool>(), 2..40), at in 0usize..40, set: bool) {
        let mut board = row(bits.len());
        let at = at % bits.len();
        let (q, n) = (nets(&mut board, "q", bits.len()), nets(&mut board, "n", bits.len()));
        let vcc = board.net("VCC");
        let input = board.net(&format!("{}{at}", if set { "s" } else { "r" }));
        let mut network = Network::of_board(&board.board);
        let mut solver = Solver::default();
        let before = solver.solve_near(&network, &guess(&q, &n, &bits)).unwrap();
        let jumper = network.tie(input, vcc).unwrap();
        let tied = solver.resolve(&network, &before).unwrap();
        network.take_out(jumper);
        let after = solver.resolve(&network, &tied).unwrap();
        let mut wanted = bits.clone();
        wanted[at] = set;
        prop_assert_eq!(state(&network, &tied, &q), wanted.clone());
        prop_assert_eq!(state(&network, &after, &q), wanted);
    }
}

/// Newton may end on the ridge between the two sides of a latch, where no board stays; one that is held to a side by one of its
/// outputs alone and let go of stands on that side.
#[test]
fn a_latch_held_by_one_output_and_let_go_of_stays_on_that_side() {
    let bits: Vec<bool> = (0..30).map(|k| k % 3 == 0).collect();
    let mut board = row(bits.len());
    let q = nets(&mut board, "q", bits.len());
    let network = Network::of_board(&board.board);
    let held: Vec<(NetId, Volts)> =
        q.iter().zip(&bits).map(|(net, bit)| (*net, Volts(if *bit { 4.0 } else { 0.1 }))).collect();
    let nothing: [(NetId, Volts); 0] = [];
    let point = Solver::default().let_go(&network, &nothing, &held).unwrap();
    assert!(kirchhoff(&network, &point).0 < 1e-9);
    assert_eq!(state(&network, &point, &q), bits);
    let alone = Solver::default().let_go(&network, &nothing, &nothing).unwrap();
    assert!(kirchhoff(&network, &alone).0 < 1e-9, "with nothing held it is a point all the same");
}

/// What something else drives the other way does not stay where it was held: it goes where the board would take it.
#[test]
fn a_latch_held_against_what_drives_it_falls_once_it_is_let_go_of() {
    let mut board = row(1);
    let (q, n) = (board.net("q0"), board.net("n0"));
    let mut network = Network::of_board(&board.board);
    network.force(n, Volts(4.4));
    let point = Solver::default().let_go(&network, &[(n, Volts(4.4))], &[(q, Volts(4.5))]).unwrap();
    assert!(point.at(&network, q).unwrap().0 < 0.5, "{:?}", point.at(&network, q));
    assert_eq!(point.method, Method::PseudoTransient, "it was followed in time");
}

/// Beside a point whose latches stand otherwise, a guess leads where it leads alone; without patience a network
/// is given up instead of being followed to the end.
#[test]
fn a_guess_beside_another_state_is_kept_and_impatience_ends() {
    let bits: Vec<bool> = (0..40).map(|k| k % 3 == 0).collect();
    let other: Vec<bool> = bits.iter().enumerate().map(|(k, bit)| *bit != (k == 7)).collect();
    let mut board = row(bits.len());
    let (q, n) = (nets(&mut board, "q", bits.len()), nets(&mut board, "n", bits.len()));
    let network = Network::of_board(&board.board);
    let stood = Solver::default().solve_near(&network, &guess(&q, &n, &other)).unwrap();
    // Half of the guess is missing; what is not guessed stands as it stood.
    let some: Vec<_> = guess(&q, &n, &bits).into_iter().filter(|(net, _)| !q[20..].contains(net)).collect();
    let beside = Solver::impatient(300).solve_beside(&network, &some, &stood).unwrap();
    assert!(kirchhoff(&network, &beside).0 < 1e-9);
    assert_eq!(state(&network, &beside, &q), bits);
    let patience = Solver::impatient(0).solve_near(&network, &[(q[0], Volts(4.5)), (n[0], Volts(4.4))]);
    assert!(patience.is_ok_and(|point| point.iterations < 400), "given up or found soon");
}

#[test]
fn a_guess_that_cannot_be_gives_way() {
    // Both outputs high is no state of two cross-coupled NORs.
    let mut board = row(1);
    let (q, n) = (board.net("q0"), board.net("n0"));
    let network = Network::of_board(&board.board);
    let solution = Solver::default().solve_near(&network, &[(q, Volts(4.5)), (n, Volts(4.4))]).unwrap();
    let (q, n) = (solution.at(&network, q).unwrap().0, solution.at(&network, n).unwrap().0);
    assert!(!(q > 2.5 && n > 2.5), "{q} {n}");
}
