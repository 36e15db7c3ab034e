package imaging

import (
	"encoding/binary"
	"io"
)

// Formats that are taken. Others have names too, so that a refusal can say what the file is.
const (
	FormatJPEG = "jpeg"
	FormatPNG  = "png"
	FormatWebP = "webp"
	FormatHEIC = "heic"
)

// sniffBytes is how much of the file's head sniff looks at.
const sniffBytes = 256

var magics = []struct {
	at     int
	magic  string
	format string
}{
	{0, "\xff\xd8\xff", FormatJPEG},
	{0, "\x89PNG\r\n\x1a\n", FormatPNG},
	{0, "GIF87a", "gif"}, {0, "GIF89a", "gif"},
	{0, "II*\x00", "tiff"}, {0, "MM\x00*", "tiff"}, {0, "II+\x00", "tiff"}, {0, "MM\x00+", "tiff"},
	{0, "BM", "bmp"},
	{0, "8BPS", "psd"},
	{0, "%PDF-", "pdf"},
	{0, "\x00\x00\x00\x0cJXL \r\n\x87\n", "jpeg xl"}, {0, "\xff\x0a", "jpeg xl"},
	{0, "\x00\x00\x00\x0cjP  \r\n\x87\n", "jpeg 2000"}, {0, "\xff\x4f\xff\x51", "jpeg 2000"},
	{0, "\x1a\x45\xdf\xa3", "video"},
	{0, "FUJIFILMCCD-RAW", "raw"},
	{0, "IIU\x00", "raw"}, {0, "IIRO", "raw"},
}

// brands of ISO base media files (ISO/IEC 14496-12 section 4.3; ISO/IEC 23008-12 annex B for the still pictures). The
// general ones do not say how the picture is coded.
var brands = map[string]string{
	"heic": FormatHEIC, "heix": FormatHEIC, "heim": FormatHEIC, "heis": FormatHEIC,
	"hevc": FormatHEIC, "hevx": FormatHEIC, "hevm": FormatHEIC, "hevs": FormatHEIC,
	"mif1": generalBrand, "mif2": generalBrand, "msf1": generalBrand, "miaf": generalBrand,
	"avif": "avif", "avis": "avif",
	"crx ": "raw",
}

const generalBrand = "heif"

// ftypFormat names the format by the brands of the ftyp box that head begins with: by the major one, or, where that is
// general or nobody's, by the others. A damaged major brand does not make a film of a photo.
func ftypFormat(head []byte) string {
	major := brands[string(head[8:12])]
	if major != "" && major != generalBrand {
		return major
	}
	found := map[string]bool{major: true}
	end := min(len(head), max(16, int(binary.BigEndian.Uint32(head))))
	for at := 16; at+4 <= end; at += 4 {
		found[brands[string(head[at:at+4])]] = true
	}
	switch {
	case found[FormatHEIC]:
		return FormatHEIC
	case found["avif"]:
		return "avif"
	case found[generalBrand]:
		return FormatHEIC // its headers tell
	}
	return "video"
}

// sniff names the format by the first bytes of the file, "" where nothing known begins so. The name of the file is
// never asked.
func sniff(head []byte) string {
	for _, m := range magics {
		if len(head) >= m.at+len(m.magic) && string(head[m.at:m.at+len(m.magic)]) == m.magic {
			return m.format
		}
	}
	if len(head) >= 12 && string(head[:4]) == "RIFF" {
		switch string(head[8:12]) {
		case "WEBP":
			return FormatWebP
		case "AVI ":
			return "video"
		}
		return ""
	}
	if len(head) >= 12 && string(head[4:8]) == "ftyp" {
		return ftypFormat(head)
	}
	if len(head) >= 8 {
		switch string(head[4:8]) {
		case "moov", "mdat", "wide":
			return "video"
		}
	}
	return ""
}

// head reads at most n bytes from the start of the file.
func head(r io.ReaderAt, size int64, n int64) ([]byte, error) {
	b := make([]byte, min(n, max(size, 0)))
	got, err := r.ReadAt(b, 0)
	if err == io.EOF {
		err = nil
	}
	return b[:got], err
}
