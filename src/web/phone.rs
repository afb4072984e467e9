//! The phone as a microphone: frames with numbers over a websocket, so that no loss goes unseen.
//!
//! A connection begins with the text `{"rate_hz":48000}`. Each binary message is one frame: its
//! number (32 bits, little endian, counting up by one), then mono samples (16 bits, little endian).
//! The server sends WAV files to be played; the phone answers each with the text `played`.

use axum::body::Bytes;
use axum::extract::ws::{Message, WebSocket};
use serde::Deserialize;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, TrySendError, channel, sync_channel};
use std::time::Duration;
use tokio::sync::broadcast;

/// Samples in one frame at most: a quarter of a second at 48 kHz.
pub(super) const MAX_FRAME_SAMPLES: usize = 12_000;
/// Frames that may wait for the listener: some seconds.
const WAITING: usize = 512;
/// A phone that sends nothing for so long is gone.
const SILENT: Duration = Duration::from_secs(8);
const RATES_HZ: std::ops::RangeInclusive<u32> = 8_000..=192_000;

/// What a phone sends.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum FromPhone {
    /// A connection begins, or begins again; what was said in between is lost.
    Started {
        /// Samples a second.
        rate_hz: u32,
    },
    /// A frame.
    Samples {
        /// Its number in the connection.
        number: u32,
        /// Mono.
        samples: Vec<i16>,
    },
    /// The connection is over.
    Stopped,
}

/// The listener's end.
pub struct PhonePort {
    /// Frames, in order.
    pub frames: Receiver<FromPhone>,
    /// One message for each sound that was played to its end.
    pub played: Receiver<()>,
    /// Takes WAV files to be played.
    pub speak: broadcast::Sender<Arc<[u8]>>,
    /// How often a phone that was speaking was sent away: nothing it sent is to be heard.
    pub sent_away: Arc<AtomicU64>,
}

/// The server's end.
#[derive(Clone)]
pub struct PhoneLink {
    frames: SyncSender<FromPhone>,
    played: Sender<()>,
    speak: broadcast::Sender<Arc<[u8]>>,
    /// The connection that counts: the newest.
    newest: Arc<AtomicU64>,
    sent_away: Arc<AtomicU64>,
}

/// The two ends of a phone.
#[must_use]
pub fn link() -> (PhoneLink, PhonePort) {
    let (frames_in, frames) = sync_channel(WAITING);
    let (played_in, played) = channel();
    let speak = broadcast::Sender::new(4);
    let link = PhoneLink {
        frames: frames_in,
        played: played_in,
        speak: speak.clone(),
        newest: Arc::default(),
        sent_away: Arc::default(),
    };
    let port = PhonePort {
        frames,
        played,
        speak,
        sent_away: link.sent_away.clone(),
    };
    (link, port)
}

/// Reads one frame; `None` where it is none.
#[must_use]
pub fn frame(bytes: &[u8]) -> Option<(u32, Vec<i16>)> {
    let (number, samples) = bytes.split_at_checked(4)?;
    if samples.len() % 2 != 0 || samples.len() / 2 > MAX_FRAME_SAMPLES || samples.is_empty() {
        return None;
    }
    let number = u32::from_le_bytes(number.try_into().ok()?);
    let samples = samples
        .chunks_exact(2)
        .map(|pair| i16::from_le_bytes([pair[0], pair[1]]));
    Some((number, samples.collect()))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Hello {
    rate_hz: u32,
}

impl PhoneLink {
    /// Serves one connection until it ends or a newer one takes its place.
    pub(super) async fn serve(self, mut socket: WebSocket) {
        let mine = self.newest.fetch_add(1, Ordering::SeqCst) + 1;
        let mut sounds = self.speak.subscribe();
        let Some(rate_hz) = hello(&mut socket).await else {
            return;
        };
        if !self.tell(FromPhone::Started { rate_hz }).await {
            return;
        }
        loop {
            if self.newest.load(Ordering::SeqCst) != mine {
                let _ = socket.send(Message::Text("replaced".into())).await;
                return;
            }
            tokio::select! {
                received = tokio::time::timeout(SILENT, socket.recv()) => {
                    let Ok(Some(Ok(message))) = received else { break };
                    if !self.take(message) { break }
                }
                Ok(wav) = sounds.recv() => {
                    let sent = socket.send(Message::Binary(Bytes::copy_from_slice(&wav)));
                    if !matches!(tokio::time::timeout(SILENT, sent).await, Ok(Ok(()))) { break }
                }
            }
        }
        if self.newest.load(Ordering::SeqCst) == mine {
            self.tell(FromPhone::Stopped).await;
        }
    }

    /// The device was sent away while it was the microphone.
    pub(super) fn sent_away(&self) {
        self.sent_away.fetch_add(1, Ordering::SeqCst);
    }

    /// Takes one message; `false` ends the connection.
    fn take(&self, message: Message) -> bool {
        match message {
            Message::Binary(bytes) => {
                let Some((number, samples)) = frame(&bytes) else {
                    return false;
                };
                let frame = FromPhone::Samples { number, samples };
                // A frame that finds no room is lost; its number tells the listener so.
                !matches!(
                    self.frames.try_send(frame),
                    Err(TrySendError::Disconnected(_))
                )
            }
            Message::Text(text) if text.as_str() == "played" => self.played.send(()).is_ok(),
            Message::Text(_) | Message::Close(_) => false,
            Message::Ping(_) | Message::Pong(_) => true,
        }
    }

    /// Tells what must not be lost.
    async fn tell(&self, what: FromPhone) -> bool {
        let mut what = what;
        for _ in 0..250 {
            match self.frames.try_send(what) {
                Ok(()) => return true,
                Err(TrySendError::Disconnected(_)) => return false,
                Err(TrySendError::Full(back)) => what = back,
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        false
    }
}

async fn hello(socket: &mut WebSocket) -> Option<u32> {
    let first = tokio::time::timeout(SILENT, socket.recv()).await;
    let Ok(Some(Ok(Message::Text(text)))) = first else {
        return None;
    };
    let hello: Hello = serde_json::from_str(&text).ok()?;
    RATES_HZ.contains(&hello.rate_hz).then_some(hello.rate_hz)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_frame_is_its_number_and_its_samples() {
        let bytes = [2, 1, 0, 0, 0xff, 0x7f, 0x00, 0x80];
        assert_eq!(frame(&bytes), Some((258, vec![i16::MAX, i16::MIN])));
        assert_eq!(frame(&bytes[..4]), None);
        assert_eq!(frame(&bytes[..7]), None);
        assert_eq!(frame(&vec![0; 4 + 2 * MAX_FRAME_SAMPLES + 2]), None);
    }

    proptest! {
        #[test]
        fn no_bytes_are_too_odd(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            if let Some((_, samples)) = frame(&bytes) {
                prop_assert_eq!(samples.len() * 2 + 4, bytes.len());
            }
        }
    }
}
