package marker

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"time"

	pdf "codeberg.org/go-pdf/fpdf" // MIT
	"golang.org/x/image/font/gofont/goregular"
)

func writePDF(w io.Writer, s *sheet) error {
	const pointsPerMM = 72 / 25.4
	doc := pdf.NewCustom(&pdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: pdf.SizeType{Wd: s.paper.WidthMM, Ht: s.paper.HeightMM}})
	// The same card is the same file: its date says nothing.
	epoch := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	doc.SetCreationDate(epoch)
	doc.SetModificationDate(epoch)
	doc.SetCatalogSort(true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes("go", "", goregular.TTF)
	doc.AddPage()
	for _, r := range s.rects {
		doc.SetFillColor(int(r.grey), int(r.grey), int(r.grey))
		doc.Rect(r.x, r.y, r.w, r.h, "F")
	}
	doc.SetTextColor(0, 0, 0)
	for _, t := range s.texts {
		doc.SetFont("go", "", t.size*pointsPerMM)
		doc.Text(t.x, t.y, t.text)
	}
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		return err
	}
	out, err := unscaled(b.Bytes())
	if err != nil {
		return err
	}
	_, err = w.Write(out)
	return err
}

// unscaled asks viewers not to fit the page to the printer's margins (ISO 32000-1, 12.2, PrintScaling), which the library
// has no word for. The catalogue is the last object, so that only the place of the table behind it moves.
func unscaled(doc []byte) ([]byte, error) {
	const catalog, wish, table = "/Type /Catalog\n", "/ViewerPreferences <</PrintScaling /None>>\n", "startxref\n"
	at, end := bytes.LastIndex(doc, []byte(catalog)), bytes.LastIndex(doc, []byte(table))
	if at < 0 || end < at {
		return nil, fmt.Errorf("pdf: no catalogue")
	}
	at += len(catalog)
	number, _, _ := bytes.Cut(doc[end+len(table):], []byte("\n"))
	xref, err := strconv.Atoi(string(number))
	if err != nil || xref < at || bytes.Contains(doc[at:xref], []byte(" 0 obj")) {
		return nil, fmt.Errorf("pdf: the catalogue is not last")
	}
	var out bytes.Buffer
	out.Write(doc[:at])
	out.WriteString(wish)
	out.Write(doc[at:end])
	fmt.Fprintf(&out, "%s%d\n%%%%EOF\n", table, xref+len(wish))
	return out.Bytes(), nil
}
