//! Dunlin's address board, 142 transistors, worked by hand in the circuit alone: jumpers set and
//! taken away, each time walking from the last operating point to the next. What it should show is
//! said by the board's README: `/CLR` clears, `/CNT` counts up by one, `/LD` loads the bus, each at
//! phase 1 then phase 2.

use dryjoint_board::{Board, NetId};
use dryjoint_circuit::{ElementId, GROUND, Network, Solution, Solver, kirchhoff};
use dryjoint_parts::Glow;
use std::path::Path;

fn board(name: &str) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let text = std::fs::read(folder.join(name)).unwrap();
    let mut loader = |path: &str| std::fs::read(folder.join(path)).map_err(|error| error.to_string());
    dryjoint_netlist::read(name, text, &mut loader).board.expect("the board reads without error")
}

struct Bench<'b> {
    board: &'b Board,
    network: Network,
    solver: Solver,
    now: Solution,
    jumpers: Vec<(NetId, ElementId)>,
}

impl<'b> Bench<'b> {
    fn new(board: &'b Board) -> Self {
        let network = Network::of_board(board);
        let mut solver = Solver::default();
        let now = solver.solve(&network).unwrap();
        Self { board, network, solver, now, jumpers: Vec::new() }
    }

    fn net(&self, name: &str) -> NetId {
        self.board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap()
    }

    fn settle(&mut self) {
        self.now = self.solver.resolve(&self.network, &self.now).unwrap();
        assert!(kirchhoff(&self.network, &self.now).0 < 1e-9);
    }

    fn low(&mut self, name: &str) {
        let net = self.net(name);
        let jumper = self.network.tie(net, GROUND).unwrap();
        self.jumpers.push((net, jumper));
        self.settle();
    }

    fn open(&mut self, name: &str) {
        let net = self.net(name);
        let at = self.jumpers.iter().position(|(tied, _)| *tied == net).unwrap();
        let (_, jumper) = self.jumpers.swap_remove(at);
        assert!(self.network.take_out(jumper));
        self.settle();
    }

    fn cycle(&mut self) {
        for phase in ["/P1", "/P2"] {
            self.low(phase);
            self.open(phase);
        }
    }

    /// The number a lamp group shows.
    fn shown(&self, group: &str) -> u32 {
        let group = self.board.lamps.rows().iter().find(|lamps| lamps.name == group).unwrap();
        group.lamps.iter().fold(0, |value, lamp| {
            let (_, glow) = self.now.lamp(&self.network, *lamp).unwrap();
            assert_ne!(glow, Glow::Dim, "{}", self.board.parts[*lamp].reference);
            2 * value + u32::from(glow == Glow::Lit)
        })
    }
}

#[test]
fn the_address_board_clears_counts_and_loads() {
    let board = board("address.board");
    let mut bench = Bench::new(&board);
    bench.low("/CLR");
    bench.cycle();
    bench.open("/CLR");
    assert_eq!(bench.shown("ADDRESS"), 0);
    bench.low("/CNT");
    for count in 1..=9 {
        bench.cycle();
        assert_eq!(bench.shown("ADDRESS"), count);
    }
    bench.open("/CNT");
    bench.cycle();
    assert_eq!(bench.shown("ADDRESS"), 9, "neither counting nor loading keeps it");
    // 0b101011 = 43: the open lines of the bus read high.
    for low in ["D4", "D2"] {
        bench.low(low);
    }
    assert_eq!(bench.shown("BUS"), 43);
    bench.low("/LD");
    bench.cycle();
    bench.open("/LD");
    assert_eq!(bench.shown("ADDRESS"), 43);
}
