package imaging

import (
	"bytes"
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
const sniffBytes = 32

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

// brands of ISO base media files (ISO/IEC 14496-12 section 4.3; ISO/IEC 23008-12 for the still pictures).
var brands = map[string]string{
	"heic": FormatHEIC, "heix": FormatHEIC, "heim": FormatHEIC, "heis": FormatHEIC,
	"hevc": FormatHEIC, "hevx": FormatHEIC, "mif1": FormatHEIC, "mif2": FormatHEIC, "msf1": FormatHEIC,
	"avif": "avif", "avis": "avif",
	"crx ": "raw",
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
		if f, ok := brands[string(head[8:12])]; ok {
			if f == FormatHEIC && bytes.Contains(head[12:], []byte("avif")) {
				return "avif"
			}
			return f
		}
		return "video"
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
