//! The connections that are open: how many an address and a device may hold, and which one gives way.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;

/// Connections of one address that belong to no paired device.
const OF_ADDRESS: usize = 64;
/// Connections of all addresses that do.
const STRANGERS: usize = 256;
/// Connections of one paired device: some pages, each with its stream.
const OF_DEVICE: usize = 64;

/// All that are open.
#[derive(Default)]
pub(super) struct Connections {
    open: Mutex<Open>,
}

#[derive(Default)]
struct Open {
    next: u64,
    all: BTreeMap<u64, Entry>,
}

struct Entry {
    address: IpAddr,
    device: Option<u64>,
    leave: Arc<Notify>,
}

impl Open {
    /// Of the strangers that are meant, the oldest leaves once there are `most`.
    fn make_room(&mut self, most: usize, meant: impl Fn(&Entry) -> bool) {
        let strangers = self.all.iter();
        let mut strangers = strangers.filter(|(_, e)| e.device.is_none() && meant(e));
        let oldest = strangers.next().map(|(id, _)| *id);
        let others = strangers.count();
        if let Some(oldest) = oldest.filter(|_| others + 1 >= most)
            && let Some(entry) = self.all.remove(&oldest)
        {
            entry.leave.notify_one();
        }
    }
}

impl Connections {
    fn open(&self) -> MutexGuard<'_, Open> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A place for a new connection. It may be that of a paired device, so it always gets one: the
    /// oldest that showed no pass gives way.
    pub(super) fn enter(self: &Arc<Self>, address: IpAddr) -> Connection {
        let mut open = self.open();
        open.make_room(OF_ADDRESS, |e| e.address == address);
        open.make_room(STRANGERS, |_| true);
        let id = open.next;
        open.next += 1;
        let leave = Arc::new(Notify::new());
        let entry = Entry {
            address,
            device: None,
            leave: leave.clone(),
        };
        open.all.insert(id, entry);
        let connections = self.clone();
        Connection {
            id,
            address,
            leave,
            connections,
        }
    }

    /// The connections of devices that are no longer let in end now.
    pub(super) fn keep(&self, let_in: impl Fn(u64) -> bool) {
        self.open().all.retain(|_, entry| {
            let stays = entry.device.is_none_or(&let_in);
            if !stays {
                entry.leave.notify_one();
            }
            stays
        });
    }
}

/// One connection. Dropping it gives its place back.
pub(super) struct Connection {
    id: u64,
    pub(super) address: IpAddr,
    leave: Arc<Notify>,
    connections: Arc<Connections>,
}

impl Connection {
    /// The connection showed the pass of a device; `false` if that has too many already.
    pub(super) fn belongs_to(&self, device: u64) -> bool {
        let mut open = self.connections.open();
        let of_device = |e: &&Entry| e.device == Some(device);
        let others = open.all.values().filter(of_device).count();
        let Some(entry) = open.all.get_mut(&self.id) else {
            return false; // it is leaving
        };
        let known = entry.device == Some(device);
        if !known && others >= OF_DEVICE {
            return false;
        }
        entry.device = Some(device);
        true
    }

    /// Waits until it must leave.
    pub(super) async fn told_to_leave(&self) {
        self.leave.notified().await;
    }
}

impl Drop for Connection {
    fn drop(&mut self) {
        self.connections.open().all.remove(&self.id);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    fn address(last: u8) -> IpAddr {
        IpAddr::V4(Ipv4Addr::new(192, 0, 2, last))
    }

    fn is_in(connections: &Connections, connection: &Connection) -> bool {
        connections.open().all.contains_key(&connection.id)
    }

    #[test]
    fn strangers_give_way_and_paired_devices_do_not() {
        let connections = Arc::new(Connections::default());
        let paired = connections.enter(address(1));
        assert!(paired.belongs_to(7));
        let idle: Vec<Connection> = (0..512).map(|_| connections.enter(address(1))).collect();
        assert!(is_in(&connections, &paired));
        assert!(!is_in(&connections, &idle[0]));
        assert!(is_in(&connections, &idle[511]));
        assert_eq!(connections.open().all.len(), 1 + OF_ADDRESS);
        let many: Vec<Connection> = (0..=255)
            .flat_map(|last| {
                [
                    connections.enter(address(last)),
                    connections.enter(address(last)),
                ]
            })
            .collect();
        assert_eq!(connections.open().all.len(), 1 + STRANGERS);
        assert!(is_in(&connections, &paired));
        drop((idle, many));
        assert_eq!(connections.open().all.len(), 1);
    }

    #[test]
    fn a_device_holds_so_many_and_leaves_when_it_is_sent_away() {
        let connections = Arc::new(Connections::default());
        let enter = |_| {
            let connection = connections.enter(address(1));
            (connection.belongs_to(7), connection)
        };
        let (let_in, own): (Vec<bool>, Vec<Connection>) = (0..=OF_DEVICE).map(enter).unzip();
        assert_eq!(let_in.iter().filter(|b| **b).count(), OF_DEVICE);
        assert!(own[0].belongs_to(7), "once more by the same connection");
        let other = connections.enter(address(1));
        assert!(other.belongs_to(8));
        connections.keep(|device| device != 7);
        assert!(!is_in(&connections, &own[0]));
        assert!(is_in(&connections, &other));
    }
}
