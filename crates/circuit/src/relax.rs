//! A first guess for a large network, block by block.
//!
//! Newton's method on a whole board of logic settles one level of stages after the other, at the cost
//! of the whole matrix each time. Here the network falls into blocks: the nodes of one transistor
//! belong together (in saturation base and collector fight each other, so neither can be settled
//! alone), and so do nodes joined by a few ohms; larger resistances and diodes lie between blocks.
//! Each block is solved with its neighbours held, and only blocks whose neighbours moved are solved
//! again (Gauss and Seidel's iteration with a work list). A cross-coupled pair falls to one side, as
//! it does on the bench. The result is a start for Newton, no more.

use crate::newton::{Engine, PLAIN};
use crate::state::{State, hold};
use crate::system::{Conductance, NONE, System};
use std::collections::VecDeque;

/// A resistance below this joins two nodes into one block, siemens.
const JOINED: f64 = 0.02;
/// Neighbours are solved again when a node moved further than this, volts.
const MOVED: f64 = 3e-3;
/// How often a block may be solved, on average.
const VISITS: usize = 40;
/// Newton steps for one block; a block that needs more waits for the whole.
const STEPS: u32 = 60;
/// With a block of more nodes than this the whole gains nothing from blocks.
const LARGEST: usize = 120;

fn root(of: &mut [u32], node: u32) -> u32 {
    let mut top = node;
    while of[top as usize] != top {
        of[top as usize] = of[of[top as usize] as usize];
        top = of[top as usize];
    }
    top
}

struct Block {
    system: System,
    state: Option<State>,
    /// Per local node its node in the whole.
    nodes: Vec<u32>,
    /// How many of them are the block's own; the rest are its neighbours' or held.
    own: usize,
}

/// Which block each unknown is in.
fn partition(system: &System) -> (Vec<u32>, usize) {
    let mut of: Vec<u32> = (0..system.n as u32).collect();
    let mut join = |a: u32, b: u32| {
        let (a, b) = (system.unknown[a as usize], system.unknown[b as usize]);
        if a != NONE && b != NONE {
            let (a, b) = (root(&mut of, a), root(&mut of, b));
            of[a.max(b) as usize] = a.min(b);
        }
    };
    for slot in system.conductances.iter().filter(|slot| slot.g >= JOINED) {
        join(slot.a, slot.b);
    }
    for slot in &system.bipolars {
        join(slot.nodes[0], slot.nodes[1]);
        join(slot.nodes[1], slot.nodes[2]);
        join(slot.nodes[0], slot.nodes[2]);
    }
    for slot in &system.mosfets {
        join(slot.nodes[0], slot.nodes[2]);
    }
    let mut number = vec![NONE; system.n];
    let mut count = 0;
    let blocks = (0..system.n as u32)
        .map(|unknown| {
            let top = root(&mut of, unknown) as usize;
            if number[top] == NONE {
                number[top] = count;
                count += 1;
            }
            number[top]
        })
        .collect();
    (blocks, count as usize)
}

/// Distributes the system's parts over its blocks.
struct Cutter<'a> {
    system: &'a System,
    block_of: &'a [u32],
    blocks: Vec<Block>,
    /// Per unknown its place in its own block.
    place: Vec<u32>,
}

impl Cutter<'_> {
    /// The local number of a node in a block, which may be a neighbour's.
    fn local(&mut self, block: u32, node: u32) -> u32 {
        let unknown = self.system.unknown[node as usize];
        if unknown != NONE && self.block_of[unknown as usize] == block {
            return self.place[unknown as usize];
        }
        let block = &mut self.blocks[block as usize];
        match block.nodes[block.own..].iter().position(|other| *other == node) {
            Some(at) => (block.own + at) as u32,
            None => {
                block.nodes.push(node);
                block.nodes.len() as u32 - 1
            }
        }
    }

    /// The blocks that nodes are in, each once.
    fn touched(&self, nodes: &[u32]) -> Vec<u32> {
        let mut blocks: Vec<u32> = Vec::with_capacity(nodes.len());
        for node in nodes {
            let unknown = self.system.unknown[*node as usize];
            if unknown != NONE && !blocks.contains(&self.block_of[unknown as usize]) {
                blocks.push(self.block_of[unknown as usize]);
            }
        }
        blocks
    }

    fn cut(mut self) -> Vec<Block> {
        let system = self.system;
        for slot in &system.conductances {
            for block in self.touched(&[slot.a, slot.b]) {
                let [a, b] = [slot.a, slot.b].map(|node| self.local(block, node));
                self.blocks[block as usize].system.conductances.push(Conductance { a, b, g: slot.g });
            }
        }
        for slot in &system.diodes {
            for block in self.touched(&[slot.a, slot.k]) {
                let [a, k] = [slot.a, slot.k].map(|node| self.local(block, node));
                let inner = &mut self.blocks[block as usize].system;
                inner.diodes.push(crate::system::DiodeSlot {
                    a,
                    k,
                    law: inner.diode_laws.len() as u32,
                    ..*slot
                });
                inner.diode_laws.push(system.diode_laws[slot.law as usize]);
            }
        }
        for slot in &system.bipolars {
            for block in self.touched(&slot.nodes) {
                let nodes = slot.nodes.map(|node| self.local(block, node));
                let inner = &mut self.blocks[block as usize].system;
                inner.bipolars.push(crate::system::BipolarSlot {
                    nodes,
                    law: inner.bipolar_laws.len() as u32,
                    ..*slot
                });
                inner.bipolar_laws.push(system.bipolar_laws[slot.law as usize]);
            }
        }
        for slot in &system.mosfets {
            for block in self.touched(&slot.nodes) {
                let nodes = slot.nodes.map(|node| self.local(block, node));
                self.blocks[block as usize].system.mosfets.push(crate::system::MosfetSlot { nodes, ..*slot });
            }
        }
        for (node, amps) in &system.injected {
            for block in self.touched(&[*node]) {
                let local = self.local(block, *node);
                self.blocks[block as usize].system.injected.push((local, *amps));
            }
        }
        for Block { system, nodes, own, .. } in &mut self.blocks {
            system.n = *own;
            system.node = (0..*own as u32).collect();
            system.unknown =
                (0..nodes.len() as u32).map(|k| if k < *own as u32 { k } else { NONE }).collect();
            system.held = (*own as u32..nodes.len() as u32).map(|k| (k, 0.0)).collect();
            system.place();
        }
        self.blocks
    }
}

/// Blocks of the system; nothing where one is too large to be worth it.
fn blocks(system: &System, block_of: &[u32], count: usize) -> Option<Vec<Block>> {
    let mut blocks: Vec<Block> = (0..count)
        .map(|_| Block { system: System::empty(system.bounds), state: None, nodes: Vec::new(), own: 0 })
        .collect();
    let mut place = vec![0; system.n];
    for (unknown, block) in block_of.iter().enumerate() {
        let block = &mut blocks[*block as usize];
        place[unknown] = block.nodes.len() as u32;
        block.nodes.push(system.node[unknown]);
        block.own += 1;
    }
    if blocks.iter().any(|block| block.own > LARGEST) {
        return None;
    }
    Some(Cutter { system, block_of, blocks, place }.cut())
}

impl Block {
    /// Solves the block with its neighbours where they are; whether a node moved.
    fn settle(&mut self, engine: &mut Engine, x: &mut [f64]) -> bool {
        for (local, volts) in &mut self.system.held {
            *volts = x[self.nodes[*local as usize] as usize];
        }
        let at: Vec<f64> = self.nodes.iter().map(|node| x[*node as usize]).collect();
        engine.prepare(&self.system);
        let state = self.state.get_or_insert_with(|| State::near(&self.system, at));
        hold(&self.system, &mut state.x, 1.0);
        if !engine.newton(&self.system, state, &PLAIN, STEPS).solved
            && !engine.leak_stepping(&self.system, state).solved
        {
            *state = State::cold(&self.system);
            return false;
        }
        let mut moved = false;
        for (node, volts) in self.nodes[..self.own].iter().zip(&state.x) {
            moved |= (x[*node as usize] - volts).abs() > MOVED;
            x[*node as usize] = *volts;
        }
        moved
    }
}

/// Node voltages in rough balance, starting from `x`; nothing where blocks do not help.
pub(crate) fn relax(engine: &mut Engine, system: &System, mut x: Vec<f64>) -> Option<Vec<f64>> {
    x.resize(system.unknown.len(), 0.0);
    hold(system, &mut x, 1.0);
    let (block_of, count) = partition(system);
    let mut blocks = blocks(system, &block_of, count)?;
    let mut queue: VecDeque<u32> = (0..count as u32).collect();
    let mut waiting = vec![true; count];
    let mut visits = VISITS * count;
    // Who reads a block's nodes: every block that has one of them as a neighbour.
    let mut readers: Vec<Vec<u32>> = vec![Vec::new(); count];
    for (number, block) in blocks.iter().enumerate() {
        for node in &block.nodes[block.own..] {
            if let Some(other) = block_of.get(system.unknown[*node as usize] as usize) {
                readers[*other as usize].push(number as u32);
            }
        }
    }
    while let Some(block) = queue.pop_front() {
        waiting[block as usize] = false;
        if visits == 0 {
            break;
        }
        visits -= 1;
        if !blocks[block as usize].settle(engine, &mut x) {
            continue;
        }
        for reader in &readers[block as usize] {
            if !std::mem::replace(&mut waiting[*reader as usize], true) {
                queue.push_back(*reader);
            }
        }
    }
    Some(x)
}
