//! The rectangular assignment problem, exact: every row gets a column of its own at least cost.
//!
//! Shortest augmenting paths with dual prices after Jonker and Volgenant, *Computing* 38 (1987)
//! 325-340, started with their row reduction. Columns without a row keep price zero, so there may
//! be more columns than rows.

use std::ops::{Add, Sub};

/// A cost: integers that are compared and added. Lexicographic tuples are one, too.
pub trait Cost: Copy + Ord + Add<Output = Self> + Sub<Output = Self> {
    /// Nothing.
    const ZERO: Self;
}

impl Cost for i64 {
    const ZERO: Self = 0;
}

/// Costs compared level by level; the first level outweighs all that follow.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(crate) struct Levels<const N: usize>(pub [i64; N]);

impl<const N: usize> Default for Levels<N> {
    fn default() -> Self {
        Self([0; N])
    }
}

impl<const N: usize> Add for Levels<N> {
    type Output = Self;
    fn add(mut self, other: Self) -> Self {
        for (a, b) in self.0.iter_mut().zip(other.0) {
            *a += b;
        }
        self
    }
}

impl<const N: usize> Sub for Levels<N> {
    type Output = Self;
    fn sub(mut self, other: Self) -> Self {
        for (a, b) in self.0.iter_mut().zip(other.0) {
            *a -= b;
        }
        self
    }
}

impl<const N: usize> Cost for Levels<N> {
    const ZERO: Self = Self([0; N]);
}

const FREE: usize = usize::MAX;

/// The column of each row, so that the sum of `cost[row * columns + column]` is least. The same
/// costs always give the same answer. `None` where there are fewer columns than rows or `cost`
/// is not `rows * columns` long. Memory is linear in the columns, besides the matrix itself.
#[must_use]
pub fn assign<C: Cost>(rows: usize, columns: usize, cost: &[C]) -> Option<Vec<usize>> {
    if rows > columns || cost.len() != rows * columns {
        return None;
    }
    let mut solver = Solver {
        columns,
        cost,
        price: vec![C::ZERO; columns],
        row_of: vec![FREE; columns],
        column_of: vec![FREE; rows],
    };
    let mut free: Vec<usize> = (0..rows).collect();
    for _ in 0..3 {
        free = solver.reduce(&free);
    }
    let mut scratch = Scratch {
        distance: vec![C::ZERO; columns],
        from: vec![FREE; columns],
        order: (0..columns).collect(),
    };
    for row in free {
        solver.augment(row, &mut scratch);
    }
    Some(solver.column_of)
}

struct Solver<'a, C> {
    columns: usize,
    cost: &'a [C],
    price: Vec<C>,
    row_of: Vec<usize>,
    column_of: Vec<usize>,
}

struct Scratch<C> {
    distance: Vec<C>,
    from: Vec<usize>,
    /// Columns: done, then at the least distance, then the rest.
    order: Vec<usize>,
}

impl<C: Cost> Solver<'_, C> {
    fn row(&self, row: usize) -> &[C] {
        &self.cost[row * self.columns..(row + 1) * self.columns]
    }

    /// Each free row takes its cheapest column at a price that leaves it no better than the
    /// second cheapest. Rows that lose their column, or that only tie, stay free.
    fn reduce(&mut self, free: &[usize]) -> Vec<usize> {
        let mut left = Vec::new();
        for &row in free {
            let mut best: Option<(C, usize)> = None;
            let mut second: Option<(C, usize)> = None;
            for (column, (cost, price)) in self.row(row).iter().zip(&self.price).enumerate() {
                let value = *cost - *price;
                if best.is_none_or(|(b, _)| value < b) {
                    second = best;
                    best = Some((value, column));
                } else if second.is_none_or(|(s, _)| value < s) {
                    second = Some((value, column));
                }
            }
            let Some((least, mut column)) = best else {
                continue;
            };
            if let Some((next, other)) = second {
                if least < next {
                    self.price[column] = self.price[column] - (next - least);
                } else if self.row_of[column] != FREE {
                    if self.row_of[other] != FREE {
                        left.push(row);
                        continue;
                    }
                    column = other;
                }
            } else if self.row_of[column] != FREE {
                left.push(row);
                continue;
            }
            let loser = self.row_of[column];
            if loser != FREE {
                self.column_of[loser] = FREE;
                left.push(loser);
            }
            self.row_of[column] = row;
            self.column_of[row] = column;
        }
        left
    }

    /// Gives `start` a column along a cheapest augmenting path and adjusts the prices.
    fn augment(&mut self, start: usize, scratch: &mut Scratch<C>) {
        let Scratch {
            distance,
            from,
            order,
        } = scratch;
        for (column, (cost, price)) in self.row(start).iter().zip(&self.price).enumerate() {
            distance[column] = *cost - *price;
            from[column] = start;
        }
        let (mut done, mut ready) = (0, 0);
        let mut least = C::ZERO;
        let end = 'search: loop {
            if done == ready {
                least = distance[order[ready]];
                let first = ready;
                for k in first..order.len() {
                    let value = distance[order[k]];
                    if value > least {
                        continue;
                    }
                    if value < least {
                        ready = done;
                        least = value;
                    }
                    order.swap(k, ready);
                    ready += 1;
                }
                for &column in &order[done..ready] {
                    if self.row_of[column] == FREE {
                        break 'search column;
                    }
                }
            }
            let column = order[done];
            done += 1;
            let row = self.row_of[column];
            let base = self.cost[row * self.columns + column] - self.price[column] - least;
            let first = ready;
            for k in first..order.len() {
                let other = order[k];
                let value = self.cost[row * self.columns + other] - self.price[other] - base;
                if value < distance[other] {
                    distance[other] = value;
                    from[other] = row;
                    if value == least {
                        if self.row_of[other] == FREE {
                            break 'search other;
                        }
                        order.swap(k, ready);
                        ready += 1;
                    }
                }
            }
        };
        for &column in &order[..done] {
            if distance[column] < least {
                self.price[column] = self.price[column] + distance[column] - least;
            }
        }
        let mut column = end;
        loop {
            let row = from[column];
            self.row_of[column] = row;
            let next = self.column_of[row];
            self.column_of[row] = column;
            if row == start {
                break;
            }
            column = next;
        }
    }
}
