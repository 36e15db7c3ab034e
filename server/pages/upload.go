package pages

import (
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
)

type uploadPage struct {
	frame
	Nav     *dogNav
	Results []uploadResult // of a form sent without a script
	Form    form
}

// uploadResult is what became of one file.
type uploadResult struct {
	File  string
	Added salon.Added
	Fault *timeline.Fault // nil: it is in
	Just  string          // all photos that are listed with it; "": a script knows
}

// Among is the result as one of a list.
func (r uploadResult) Among(just string) uploadResult {
	r.Just = just
	return r
}

// CoatStates are the answers that its row offers.
func (r uploadResult) CoatStates() []timeline.CoatState { return timeline.CoatStates() }

// uploadRow is the list of results alone: what the script puts in place of its progress bar.
type uploadRow struct {
	frame
	Results []uploadResult
}

var (
	uploadView    = declare[uploadPage]("upload")
	uploadRowView = declare[uploadRow]("uploadrow")
)

// maxFiles bounds one form; a script sends one file a request.
const maxFiles = 200

func (s *Site) upload(w http.ResponseWriter, r *http.Request) error {
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	return s.showUpload(w, r, 0, dog, idsOf(r.URL.Query().Get("just")), form{})
}

// addPhotos takes files in one by one: one that is refused does not hold up the others. Asked with "Accept:
// text/x-rows" it answers with the rows alone.
func (s *Site) addPhotos(w http.ResponseWriter, r *http.Request) error {
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	results, err := s.takeFiles(r, dog.ID)
	if err != nil {
		return err
	}
	code := http.StatusOK
	var faults []*timeline.Fault
	for _, res := range results {
		if faults = append(faults, res.Fault); res.Fault != nil {
			code = max(code, status.Of(res.Fault))
		}
	}
	tellKept(w, r, faults)
	if r.Header.Get("Accept") == "text/x-rows" {
		return uploadRowView.bare(s, w, r, uploadRow{frame: frame{Status: code}, Results: results})
	}
	p := uploadPage{frame: frame{Status: code, Tab: "photos", Dog: navOf(dog)}, Nav: navOf(dog), Results: results}
	if len(results) == 0 {
		p.Status = http.StatusUnprocessableEntity
		p.Form.Fault = timeline.NewFault(timeline.Invalid, "fault.upload.none").In("photos")
	}
	return uploadView.show(s, w, r, p)
}

func (s *Site) takeFiles(r *http.Request, dog timeline.ID) ([]uploadResult, error) {
	var out []uploadResult
	err := s.eachFile(r, func(name string, file io.Reader) {
		added, err := s.salon.AddPhoto(r.Context(), dog, name, file, "")
		out = append(out, uploadResult{File: name, Added: added, Fault: s.refusedFile(r, err)})
	})
	return out, err
}

// eachFile hands on the files of a form, one by one as they arrive.
func (s *Site) eachFile(r *http.Request, take func(name string, file io.Reader)) error {
	parts, err := r.MultipartReader()
	if err != nil {
		return timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
	}
	for n := 0; n < maxFiles; {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
		}
		if part.FileName() == "" {
			continue // another field, or no file was chosen
		}
		take(part.FileName(), part)
		n++
	}
	return nil
}

// tellKept tells a script whether every file of a form is in, which is when it may forget its own copies. faults has one entry
// a file, nil for each that is in.
func tellKept(w http.ResponseWriter, r *http.Request, faults []*timeline.Fault) {
	for _, f := range faults {
		if f != nil {
			w.Header().Set(refusedHeader, url.PathEscape(speakerOf(visitOf(r).settings).Fault(f)))
			return
		}
	}
	if len(faults) > 0 {
		w.Header().Set(keptHeader, strconv.Itoa(len(faults)))
	}
}

// refusedFile is what the row of a file says of an error; trouble of our own is logged. nil: the file is in.
func (s *Site) refusedFile(r *http.Request, err error) *timeline.Fault {
	if err == nil {
		return nil
	}
	f := status.Fault(err)
	if f.Kind == timeline.Internal || f.Kind == timeline.NoSpace {
		s.log.Error("photo", "route", routeOf(r), "error", err)
	}
	return f
}
