//! FLAC, Ogg Vorbis and MP3 to a clip.

use super::sink::{DecodeError, Mono, Sink};
use std::io::Cursor;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// What a file may fall short of its promised length before it counts as cut,
/// in milliseconds: encoders pad and trim by about a block.
const SHORT_MS: u64 = 100;

pub(super) fn decode(
    bytes: &[u8],
    kind: &'static str,
    name: &str,
    to_hz: Option<u32>,
) -> Result<Mono, DecodeError> {
    let fault = |e: Error, found_ms: u64| match e {
        Error::Unsupported(detail) => DecodeError::Unsupported {
            name: name.into(),
            kind,
            detail: detail.into(),
        },
        Error::IoError(_) => DecodeError::Truncated {
            name: name.into(),
            kind,
            found_ms,
            promised: String::new(),
        },
        e => DecodeError::Corrupt {
            name: name.into(),
            kind,
            found_ms,
            detail: e.to_string(),
        },
    };
    let source = Box::new(Cursor::new(bytes.to_vec()));
    let stream = MediaSourceStream::new(source, Default::default());
    let mut format = symphonia::default::get_probe()
        .probe(
            &Hint::new(),
            stream,
            FormatOptions::default(),
            MetadataOptions::default(),
        )
        .map_err(|e| fault(e, 0))?;
    let mut track = open_track(format.as_mut()).map_err(|e| fault(e, 0))?;

    let mut sink: Option<Sink<'_>> = None;
    let mut piece: Vec<f32> = Vec::new();
    loop {
        let found_ms = sink.as_ref().map_or(0, Sink::taken_ms);
        let packet = match format.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => break,
            Err(e) => return Err(fault(e, found_ms)),
        };
        if packet.track_id != track.id {
            continue;
        }
        let decoded = track
            .decoder
            .decode(&packet)
            .map_err(|e| fault(e, found_ms))?;
        if decoded.frames() == 0 {
            continue;
        }
        let (rate_hz, channels) = (decoded.spec().rate(), decoded.spec().channels().count());
        decoded.copy_to_vec_interleaved(&mut piece);
        let sink = match &mut sink {
            Some(sink) => sink,
            none => none.insert(Sink::new(
                name,
                rate_hz,
                u16::try_from(channels).unwrap_or(u16::MAX),
                to_hz,
            )?),
        };
        if !sink.is_for(rate_hz, channels) {
            return Err(DecodeError::Unsupported {
                name: name.into(),
                kind,
                detail: format!("a change of rate or channels at {found_ms} ms"),
            });
        }
        sink.push(&piece)?;
    }
    let Some(sink) = sink else {
        return Err(DecodeError::NoSamples {
            name: name.into(),
            kind,
        });
    };
    if let Some(promised) = track.promised_frames
        && sink.ms(promised) > sink.taken_ms() + SHORT_MS
    {
        return Err(DecodeError::Truncated {
            name: name.into(),
            kind,
            found_ms: sink.taken_ms(),
            promised: format!(", {} ms were promised", sink.ms(promised)),
        });
    }
    sink.finish(kind)
}

/// The sound track of a file.
struct Track {
    id: u32,
    promised_frames: Option<u64>,
    decoder: Box<dyn AudioDecoder>,
}

fn open_track(format: &mut dyn FormatReader) -> Result<Track, Error> {
    let track = format
        .default_track(TrackType::Audio)
        .ok_or(Error::Unsupported("no sound track"))?;
    let params = track
        .codec_params
        .as_ref()
        .and_then(|params| params.audio())
        .ok_or(Error::Unsupported("an unknown coding"))?;
    let options = AudioDecoderOptions::default().verify(true);
    let decoder = symphonia::default::get_codecs().make_audio_decoder(params, &options)?;
    Ok(Track {
        id: track.id,
        promised_frames: track.num_frames,
        decoder,
    })
}
