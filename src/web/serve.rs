//! The server: its socket, its threads, TLS, and limits on what a client may hold.

use super::connections::Connections;
use super::devices::Devices;
use super::fingerprint::Fingerprint;
use super::kept::{Kept, Memory};
use super::pair::{Codes, Pairing};
use super::routes::router;
use super::shared::Shared;
use super::tickets::Tickets;
use super::tls::{self, Certificate};
use super::{Backend, Error, Live, PhoneLink};
use axum::{Extension, Router};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::runtime::Runtime;
use tokio::sync::Semaphore;
use tokio_rustls::TlsAcceptor;

/// How long a client may take for the TLS handshake, and for the head of a request.
const PATIENCE: Duration = Duration::from_secs(10);
/// So often it is looked whether another program sent a device away.
const LOOK: Duration = Duration::from_millis(300);
/// The file of the port that devices on the local network know.
const PORT: &str = "port.json";

/// What is served, and to whom.
pub struct Options {
    /// On the local network, over TLS; `Some(None)` finds the address itself. Without it on this
    /// machine alone. Paired must be both.
    pub lan: Option<Option<IpAddr>>,
    /// 0 for any free one; on the local network for that of the last time.
    pub port: u16,
    /// Where certificate and pairings are kept; nowhere means as long as the server runs.
    pub kept: Option<Arc<dyn Kept>>,
    /// Where the pages get what they show.
    pub backend: Arc<dyn Backend>,
    /// The board; without it the review is the first page.
    pub live: Option<Live>,
    /// A phone may be the microphone.
    pub phone: Option<PhoneLink>,
    /// Is told the codes that let the next device in, at the start and whenever they change.
    pub on_code: Box<dyn Fn(&Codes) + Send + Sync>,
}

/// A server at work. Dropping it ends it.
pub(crate) struct Server {
    #[cfg(test)]
    address: SocketAddr,
    url: String,
    certificate: Option<Certificate>,
    used: Arc<Mutex<Instant>>,
    shared: Arc<Shared>,
    runtime: Option<Runtime>,
}

impl Server {
    /// Starts serving.
    ///
    /// # Errors
    /// [`Error`]: the port, the network, the certificate.
    pub(crate) fn start(options: Options) -> Result<Self, Error> {
        let lan = options.lan.is_some();
        let ip = match options.lan {
            None => IpAddr::V4(Ipv4Addr::LOCALHOST),
            Some(Some(ip)) => ip,
            Some(None) => tls::lan_address()?,
        };
        // A browser of this machine pairs by the address that is printed; that of an earlier run had
        // another port, and so another cookie.
        let kept = options.kept.filter(|_| lan);
        let kept = kept.unwrap_or_else(|| Arc::new(Memory::default()));
        let tls = lan.then(|| tls::of(kept.as_ref(), ip)).transpose()?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .max_blocking_threads(8)
            .thread_name("web")
            .enable_all()
            .build()
            .map_err(Error::Threads)?;
        let listener = listen(&runtime, kept.as_ref(), ip, options.port)?;
        let address = listener.local_addr().map_err(|source| Error::Bind {
            address: ip.to_string(),
            source,
        })?;
        let port = address.port();
        let (acceptor, certificate, names) = match tls {
            Some(tls) => (Some(tls.acceptor), Some(tls.certificate), tls.names),
            None => (None, None, Vec::new()),
        };
        let mut hosts: Vec<String> = names.iter().map(|n| format!("{n}:{port}")).collect();
        hosts.push(address.to_string());
        if ip.is_loopback() {
            hosts.extend([format!("localhost:{port}"), format!("127.0.0.1:{port}")]);
        }
        let shared = Arc::new(Shared {
            backend: options.backend,
            live: options.live,
            phone: options.phone,
            scheme: if lan { "https" } else { "http" },
            hosts,
            pairing: Mutex::new(Pairing::new(lan, Devices::kept_in(kept)?, Instant::now())?),
            tickets: Mutex::new(Tickets::default()),
            connections: Arc::new(Connections::default()),
            clips: Semaphore::new(1),
            port,
            certificate: certificate.clone(),
            used: Arc::new(Mutex::new(Instant::now())),
            on_code: options.on_code,
        });
        shared.show_codes();
        let (url, used) = (shared.url(), shared.used.clone());
        runtime.spawn(look(shared.clone()));
        let connections = shared.connections.clone();
        runtime.spawn(accept(
            listener,
            acceptor,
            connections,
            router(shared.clone()),
        ));
        Ok(Self {
            #[cfg(test)]
            address,
            url,
            certificate,
            used,
            shared,
            runtime: Some(runtime),
        })
    }

    /// The address to open.
    #[must_use]
    pub(crate) fn url(&self) -> String {
        self.url.clone()
    }

    /// Address and port.
    #[cfg(test)]
    #[must_use]
    pub(crate) const fn address(&self) -> SocketAddr {
        self.address
    }

    /// SHA-256 of the certificate, as browsers show it; `None` without TLS.
    #[must_use]
    pub(crate) fn fingerprint(&self) -> Option<String> {
        let certificate = self.certificate.as_ref();
        certificate.map(|c| c.fingerprint.in_figures())
    }

    /// The fingerprint of what a phone can be told to trust, in words; `None` without TLS, and for a
    /// certificate of this person's own.
    #[must_use]
    pub(crate) fn root_in_words(&self) -> Option<String> {
        let root = self.certificate.as_ref()?.root.as_deref();
        root.map(|root| Fingerprint::of(root).in_words())
    }

    /// The codes that let the next device in.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(crate) fn codes(&self) -> Result<Codes, Error> {
        self.shared.pairing().codes(Instant::now()).cloned()
    }

    /// How long no paired device has asked for anything.
    #[must_use]
    pub(crate) fn unused(&self) -> Duration {
        let used = self.used.lock();
        used.unwrap_or_else(PoisonError::into_inner).elapsed()
    }

    /// Whether the certificate was made just now, so that every browser will warn once.
    #[must_use]
    pub(crate) fn has_new_certificate(&self) -> bool {
        self.certificate.as_ref().is_some_and(|c| c.is_new)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(runtime) = self.runtime.take() {
            // Whoever starts the next server gets its port.
            runtime.shutdown_timeout(Duration::from_millis(300));
        }
    }
}

/// Listens on the port that is asked for; without one on that of the last time, if it is free.
fn listen(
    runtime: &Runtime,
    kept: &dyn Kept,
    ip: IpAddr,
    asked: u16,
) -> Result<TcpListener, Error> {
    let listen = |port| {
        let wanted = SocketAddr::new(ip, port);
        let listener = runtime.block_on(TcpListener::bind(wanted));
        listener.map_err(|source| Error::Bind {
            address: wanted.to_string(),
            source,
        })
    };
    if asked != 0 {
        return listen(asked);
    }
    let known = kept.read(PORT).ok().flatten();
    let known = known.and_then(|port| port.trim().parse().ok());
    if let Some(Ok(listener)) = known.map(listen) {
        return Ok(listener);
    }
    let listener = listen(0)?;
    // One that another bench has now stays known: it is asked for again the next time.
    if let (None, Ok(address)) = (known, listener.local_addr()) {
        let _ = kept.change(PORT, &mut |_| Ok(address.port().to_string()));
    }
    Ok(listener)
}

/// Ends what belongs to devices that were sent away, by whomever.
async fn look(shared: Arc<Shared>) {
    let mut ticks = tokio::time::interval(LOOK);
    loop {
        ticks.tick().await;
        shared.keep_only_paired();
    }
}

async fn accept(
    listener: TcpListener,
    tls: Option<TlsAcceptor>,
    connections: Arc<Connections>,
    router: Router,
) {
    loop {
        let Ok((stream, from)) = listener.accept().await else {
            // Out of file handles, say: wait for some to come back.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        let connection = Arc::new(connections.enter(from.ip()));
        let router = router.clone().layer(Extension(connection.clone()));
        let tls = tls.clone();
        tokio::spawn(async move {
            tokio::select! {
                () = serve(stream, tls, router) => {}
                () = connection.told_to_leave() => {}
            }
        });
    }
}

async fn serve(stream: TcpStream, tls: Option<TlsAcceptor>, router: Router) {
    let _ = stream.set_nodelay(true);
    match tls {
        None => talk(stream, router).await,
        Some(tls) => {
            if let Ok(Ok(stream)) = tokio::time::timeout(PATIENCE, tls.accept(stream)).await {
                talk(stream, router).await;
            }
        }
    }
}

async fn talk(stream: impl AsyncRead + AsyncWrite + Unpin + Send + 'static, router: Router) {
    // A client that breaks off is not a fault of ours.
    let _ = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .max_buf_size(32 * 1024)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
        .with_upgrades()
        .await;
}
