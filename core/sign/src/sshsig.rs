//! A signature in the form of OpenSSH, as PROTOCOL.sshsig of its source describes it: read strictly, and checked.

use std::fmt;

use base64::prelude::*;
use ring::signature::{ED25519, UnparsedPublicKey};
use sha2::{Digest, Sha256, Sha512};

pub const BEGIN: &str = "-----BEGIN SSH SIGNATURE-----";
const END: &str = "-----END SSH SIGNATURE-----";
const MAGIC: &[u8] = b"SSHSIG";
const VERSION: u32 = 1;
/// The one kind of key that is taken.
pub const KIND: &str = "ssh-ed25519";

/// A public key of Ed25519.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key([u8; 32]);

impl Key {
    /// As a line of a list has it, in base64. Errors: why it is none.
    pub fn read(text: &str) -> Result<Self, String> {
        let blob = BASE64_STANDARD.decode(text).map_err(|_| "it is not base64, or was cut off".to_owned())?;
        Self::of_blob(&blob)
    }

    fn of_blob(blob: &[u8]) -> Result<Self, String> {
        let mut wire = Wire(blob);
        let kind = wire.string().ok_or("it has no kind")?;
        if kind != KIND.as_bytes() {
            return Err(format!("it is a key of the kind `{}`", String::from_utf8_lossy(kind)));
        }
        let key = wire.string().and_then(|key| <[u8; 32]>::try_from(key).ok());
        match (key, wire.0) {
            (Some(key), []) => Ok(Self(key)),
            _ => Err("it is not 32 bytes long".to_owned()),
        }
    }

    fn blob(self) -> Vec<u8> {
        [string(KIND.as_bytes()), string(&self.0)].concat()
    }
}

/// As `ssh-keygen -l` shows it.
impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SHA256:{}", BASE64_STANDARD_NO_PAD.encode(Sha256::digest(self.blob())))
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

/// A signature as it was read; whether it holds is asked of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    pub key: Key,
    pub namespace: String,
    reserved: Vec<u8>,
    hash: Hash,
    bytes: Vec<u8>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Hash {
    Sha256,
    Sha512,
}

impl Hash {
    fn name(self) -> &'static str {
        match self {
            Hash::Sha256 => "sha256",
            Hash::Sha512 => "sha512",
        }
    }

    fn of(self, message: &[u8]) -> Vec<u8> {
        match self {
            Hash::Sha256 => Sha256::digest(message).to_vec(),
            Hash::Sha512 => Sha512::digest(message).to_vec(),
        }
    }
}

impl Signature {
    /// With the lines around it, and nothing behind. Errors: what is wrong with its form.
    pub fn read(armour: &str) -> Result<Self, String> {
        let inner = armour.strip_prefix(BEGIN).and_then(|rest| rest.strip_prefix('\n'));
        let inner = inner.and_then(|rest| rest.strip_suffix('\n').unwrap_or(rest).strip_suffix(END));
        let lines: String = inner.ok_or("its first or last line is not that of a signature")?.split('\n').collect();
        let blob = BASE64_STANDARD.decode(&lines).map_err(|_| "it is not base64".to_owned())?;
        Self::of_blob(&blob)
    }

    fn of_blob(blob: &[u8]) -> Result<Self, String> {
        let cut = || "it was cut off".to_owned();
        let mut wire = Wire(blob.strip_prefix(MAGIC).ok_or("it is not an OpenSSH signature")?);
        match wire.number().ok_or_else(cut)? {
            VERSION => {}
            other => return Err(format!("it has the version {other}, and {VERSION} is known")),
        }
        let key = Key::of_blob(wire.string().ok_or_else(cut)?)?;
        let namespace = String::from_utf8_lossy(wire.string().ok_or_else(cut)?).into_owned();
        let reserved = wire.string().ok_or_else(cut)?.to_vec();
        let hash = match wire.string().ok_or_else(cut)? {
            b"sha256" => Hash::Sha256,
            b"sha512" => Hash::Sha512,
            _ => return Err("it was made with a hash that is not known".to_owned()),
        };
        let mut inner = Wire(wire.string().ok_or_else(cut)?);
        let (kind, bytes) = (inner.string().ok_or_else(cut)?, inner.string().ok_or_else(cut)?);
        if kind != KIND.as_bytes() || !inner.0.is_empty() || !wire.0.is_empty() {
            return Err("it is not the one signature that it says it is".to_owned());
        }
        Ok(Self { key, namespace, reserved, hash, bytes: bytes.to_vec() })
    }

    /// Is it this key's signature of this message, for this purpose?
    pub fn holds(&self, message: &[u8], namespace: &str) -> bool {
        let hash = self.hash.of(message);
        let parts = [namespace.as_bytes(), &self.reserved, self.hash.name().as_bytes(), &hash];
        let signed = [MAGIC.to_vec(), parts.map(string).concat()].concat();
        self.namespace == namespace && UnparsedPublicKey::new(&ED25519, self.key.0).verify(&signed, &self.bytes).is_ok()
    }
}

/// A `string` of RFC 4251, section 5: its length in four bytes, then itself.
fn string(bytes: &[u8]) -> Vec<u8> {
    [&(bytes.len() as u32).to_be_bytes(), bytes].concat()
}

/// What is still to be read.
struct Wire<'a>(&'a [u8]);

impl<'a> Wire<'a> {
    fn number(&mut self) -> Option<u32> {
        let (number, rest) = self.0.split_first_chunk::<4>()?;
        self.0 = rest;
        Some(u32::from_be_bytes(*number))
    }

    fn string(&mut self) -> Option<&'a [u8]> {
        let length = self.number()? as usize;
        let (string, rest) = self.0.split_at_checked(length)?;
        self.0 = rest;
        Some(string)
    }
}
