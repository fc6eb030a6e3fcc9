"""Opens a file that a stranger sent.

A media file can name other files and addresses to be read along with it (playlists, references).
Only self-contained containers and plain audio decoders are let in, so a file can do nothing but be
played; its picture is never decoded.
"""

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import av
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.stream import Disposition

from submissions.preparing.ending import ends_inside, whole_boxes
from submissions.preparing.findings import Refusal, Unusable

# As FFmpeg names and takes them. No playlist (hls, dash, concat) is among the containers, and none that only
# games or studios write.
CONTAINERS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,ogg,mp3,wav,w64,flac,aac,amr,caf,aiff,"
    "avi,asf,mpegts,mpeg,au,wv,ac3,eac3,flv,tta,ape,dts,qcp,voc,rm,gsm,mpc,mpc8"
)
# Two decoders exist for some formats; either may be chosen.
DECODERS = (
    "aac,aac_fixed,alac,amrnb,amr_nb,amrwb,amr_wb,flac,libopus,mp3,mp3float,opus,vorbis,"
    "adpcm_ima_qt,adpcm_ima_wav,adpcm_ms,pcm_alaw,pcm_f32be,pcm_f32le,pcm_f64le,pcm_mulaw,"
    "pcm_s16be,pcm_s16le,pcm_s24be,pcm_s24le,pcm_s32be,pcm_s32le,pcm_s8,pcm_u8,"
    "ac3,ac3_fixed,eac3,mp1,mp1float,mp2,mp2float,wavpack,wmav1,wmav2,"
    "aac_latm,adpcm_swf,adpcm_yamaha,ape,cook,dca,evrc,g722,g723_1,g726,g726le,gsm,gsm_ms,mpc7,mpc8,nellymoser,"
    "pcm_bluray,pcm_dvd,pcm_f64be,pcm_s16be_planar,pcm_s16le_planar,pcm_s24le_planar,pcm_s32le_planar,"
    "pcm_s64be,pcm_s64le,pcm_s8_planar,pcm_u16be,pcm_u16le,pcm_u24be,pcm_u24le,pcm_u32be,pcm_u32le,"
    "qcelp,real_144,real_288,sipr,speex,tta,wmalossless,wmapro,wmavoice"
)
LET_IN, HEARD = frozenset(CONTAINERS.split(",")), frozenset(DECODERS.split(","))
# Atoms that begin files of the mp4 family, whose index names every sample (ISO/IEC 14496-12, 4.2).
FIRST_ATOMS = frozenset({b"ftyp", b"moov", b"mdat", b"free", b"skip", b"wide"})


@dataclass(frozen=True, slots=True)
class Opened:
    """A container that is open for reading, with the one stream of sound that counts."""

    container: InputContainer
    stream: AudioStream
    had_picture: bool
    kind: frozenset[str]
    bytes_missing: bool

    @property
    def codec(self) -> str:
        return self.stream.codec_context.codec.canonical_name

    @property
    def declared_seconds(self) -> float | None:
        """Length by the container's own header; None where it says nothing or only guesses."""
        if self.kind & {"mp3", "aac", "amr"}:  # computed from a bit rate, wrong for variable ones
            return None
        if self.stream.duration is not None and self.stream.time_base is not None:
            return float(self.stream.duration * self.stream.time_base)
        if self.container.duration is not None:
            return self.container.duration / av.time_base
        return None

    def __enter__(self) -> "Opened":
        return self

    def __exit__(self, *_: object) -> None:
        self.container.close()


def open_recording(path: Path) -> Opened:
    """Open `path`, or raise Unusable with the reason a student is told."""
    if path.stat().st_size == 0:
        raise Unusable(Refusal.EMPTY)
    container = _container(f"file:{path}") or _without_its_torn_end(path)
    if container is None:
        raise Unusable(Refusal.CUT_OFF if _lost_its_index(path) else Refusal.NOT_A_RECORDING)
    kind = frozenset(container.format.name.split(","))
    stream = next((s for s in container.streams.audio if _can_be_heard(s)), None)
    if stream is None:
        only_pictures = bool(container.streams.video) and not container.streams.audio
        container.close()
        raise Unusable(Refusal.NO_SOUND if only_pictures else Refusal.NOT_A_RECORDING)
    if not kind & LET_IN:
        container.close()
        raise Unusable(Refusal.NOT_A_RECORDING)
    return Opened(
        container=container,
        stream=stream,
        # Cover art is stored as a picture as well, but makes no video of a recording.
        had_picture=any(not s.disposition & Disposition.attached_pic for s in container.streams.video),
        kind=kind,
        bytes_missing=ends_inside(path, kind=kind),
    )


def _container(what: str | BytesIO) -> InputContainer | None:
    options = {
        "format_whitelist": CONTAINERS,
        "codec_whitelist": DECODERS,
        "protocol_whitelist": "file",
    }
    try:
        return av.open(what, "r", options=options)
    except (av.FFmpegError, ValueError):
        return None


def _without_its_torn_end(path: Path) -> InputContainer | None:
    """An mp4 that was cut inside a fragment's index cannot be opened; the fragments before it can."""
    if not _lost_its_index(path):
        return None
    with path.open("rb") as file:
        return _container(BytesIO(file.read(whole_boxes(path))))


def _can_be_heard(stream: AudioStream) -> bool:
    """Whether we decode it. Of a codec that FFmpeg does not know, a damaged header's, there is no context."""
    context: object | None = stream.codec_context
    return context is not None and stream.codec_context.codec.name in HEARD


def _lost_its_index(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(8)[4:8] in FIRST_ATOMS
