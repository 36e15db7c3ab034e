package pages

import (
	"bytes"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"thatch/server/salon"
	"thatch/timeline"
)

type markerPage struct {
	frame
	Path   string         // of this page; the sheet itself lies beside it
	Whose  *timeline.Dog  // nil: every dog's
	Papers []markerChoice // the usual one first
	Sizes  []int          // sides of the symbol, mm, the usual one first
}

type markerChoice struct{ Code, Key string }

var markerView = declare[markerPage]("marker")

var markerPapers = []markerChoice{{"a4", "marker.page.a4"}, {"letter", "marker.page.letter"}}

// smallMarkerMM is for a table that has no room for the usual one. A module of it is still two millimetres.
const smallMarkerMM = 50

// marker shows what a dog's table marker is for and how to print it; without a dog it is the salon's own.
func (s *Site) marker(w http.ResponseWriter, r *http.Request) error {
	p := markerPage{Path: "/marker", Papers: markerPapers, Sizes: []int{salon.UsualMarkerMM, smallMarkerMM}}
	if visitOf(r).settings.Units == "in" { // where lengths are in inches, so is the paper
		p.Papers = []markerChoice{markerPapers[1], markerPapers[0]}
	}
	if id := idOf(r, "id"); id != "" {
		dog, err := s.salon.Dog(r.Context(), id)
		if err != nil {
			return err
		}
		p.Whose, p.Path, p.frame = &dog, "/dogs/"+string(id)+"/marker", frame{Tab: "marker", Dog: navOf(dog)}
	}
	return markerView.show(s, w, r, p)
}

// markerSheet is the sheet to print: ?paper=a4|letter, ?size=mm.
func (s *Site) markerSheet(w http.ResponseWriter, r *http.Request) error {
	sheet := salon.MarkerSheet{Format: chi.URLParam(r, "format"), Paper: r.URL.Query().Get("paper"), SizeMM: salon.UsualMarkerMM}
	mediaType := map[string]string{"pdf": "application/pdf", "png": "image/png"}[sheet.Format]
	if mediaType == "" {
		return timeline.NewFault(timeline.NotFound, "fault.not_found")
	}
	if sheet.Paper == "" {
		sheet.Paper = salon.MarkerPapers()[0]
	}
	if text := r.URL.Query().Get("size"); text != "" {
		mm, err := strconv.Atoi(text)
		if err != nil {
			mm = 0 // as wrong as any other size that is not drawn
		}
		sheet.SizeMM = mm
	}
	if id := idOf(r, "id"); id != "" {
		dog, err := s.salon.Dog(r.Context(), id)
		if err != nil {
			return err
		}
		sheet.Dog = dog
	}
	var b bytes.Buffer
	if err := sheet.Write(&b, speakerOf(visitOf(r).settings)); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", mediaType)
	// To be saved: a browser that shows it in itself would offer to fit it to the page.
	h.Set("Content-Disposition", `attachment; filename="`+sheet.FileName()+`"`)
	h.Set("Cache-Control", "no-store")
	_, _ = b.WriteTo(w) // the browser went away: nobody to tell
	return nil
}
