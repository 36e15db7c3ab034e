package pages

import (
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
)

type heapPage struct {
	frame
	salon.HeapLook
	Results []heapResult // of a form sent without a script
	Filed   *heapFiled   // what was filed just now
	Form    form
}

// heapResult is what became of one file.
type heapResult struct {
	File   string
	Heaped salon.Heaped
	Fault  *timeline.Fault // nil: it is in
}

// heapFiled tells of photos that went to their dog.
type heapFiled struct {
	Dog timeline.Dog
	N   int
}

type heapRow struct {
	frame
	Results []heapResult
}

type heapPhotoPage struct {
	frame
	salon.HeapItem
	Dogs []timeline.Dog
	Form form
}

var (
	heapView      = declare[heapPage]("heap")
	heapRowView   = declare[heapRow]("heaprow")
	heapPhotoView = declare[heapPhotoPage]("heapphoto")
)

// heap is where photos of several dogs wait until somebody confirms whose they are.
func (s *Site) heap(w http.ResponseWriter, r *http.Request) error {
	p := heapPage{}
	// The address says it, so that the sentence can name the dog; what is no dog, or no number, is not said.
	if n, err := strconv.Atoi(r.URL.Query().Get("filed")); err == nil && n > 0 && n <= maxFiles {
		if d, err := s.salon.Dog(r.Context(), timeline.ID(r.URL.Query().Get("dog"))); err == nil {
			p.Filed = &heapFiled{Dog: d, N: n}
		}
	}
	return s.showHeap(w, r, p)
}

func (s *Site) showHeap(w http.ResponseWriter, r *http.Request, p heapPage) error {
	look, err := s.salon.Heap(r.Context())
	if err != nil {
		return err
	}
	p.HeapLook, p.Tab = look, "heap"
	return heapView.show(s, w, r, p)
}

// addToHeap takes files in one by one, as addPhotos does.
func (s *Site) addToHeap(w http.ResponseWriter, r *http.Request) error {
	var results []heapResult
	code := http.StatusOK
	var faults []*timeline.Fault
	err := s.eachFile(r, func(name string, file io.Reader) {
		heaped, err := s.salon.AddToHeap(r.Context(), name, file, "")
		res := heapResult{File: name, Heaped: heaped, Fault: s.refusedFile(r, err)}
		if faults = append(faults, res.Fault); res.Fault != nil {
			code = max(code, status.Of(res.Fault))
		}
		results = append(results, res)
	})
	if err != nil {
		return err
	}
	tellKept(w, r, faults)
	if r.Header.Get("Accept") == "text/x-rows" {
		return heapRowView.bare(s, w, r, heapRow{frame: frame{Status: code}, Results: results})
	}
	p := heapPage{frame: frame{Status: code}, Results: results}
	if len(results) == 0 {
		p.Status = http.StatusUnprocessableEntity
		p.Form.Fault = timeline.NewFault(timeline.Invalid, "fault.upload.none").In("photos")
	}
	return s.showHeap(w, r, p)
}

// sortHeap does one thing with the photos that are ticked: "file" them as those of the dog of the form, say that they are
// another "dog <id>", take that back ("unsay"), or put them aside ("trash").
func (s *Site) sortHeap(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	var ids []timeline.ID
	for _, id := range f.Values["photo"] {
		ids = append(ids, timeline.ID(id))
	}
	to := "/heap"
	do, dog, _ := strings.Cut(f.text("do"), " ")
	switch do {
	case "file":
		var filed []timeline.Photo
		if filed, err = s.salon.FileHeap(r.Context(), timeline.ID(f.Get("dog")), ids); err == nil {
			to += "?dog=" + string(filed[0].Dog) + "&filed=" + strconv.Itoa(len(filed))
		}
	case "dog":
		if err = s.salon.SayHeapDog(r.Context(), ids, timeline.ID(dog)); err == nil {
			sayNext(w, r, "heap.said", "", "")
			to += "#dog-" + dog
		}
	case "unsay":
		if err = s.salon.SayHeapDog(r.Context(), ids, ""); err == nil {
			sayNext(w, r, "heap.unsaid", "", "")
		}
	case "trash":
		if err = s.salon.TrashHeap(r.Context(), ids); err == nil {
			kind, id := "", timeline.ID("")
			if len(ids) == 1 {
				kind, id = "heap", ids[0]
			}
			sayNext(w, r, "heap.trashed", kind, id) // of several, each can be had back at the end of the page
		}
	default:
		err = timeline.NewFault(timeline.Invalid, "fault.form")
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showHeap(w, r, heapPage{frame: frame{Status: code}, Form: f}) })
	}
	return seeOther(w, r, to)
}

func (s *Site) heapPhoto(w http.ResponseWriter, r *http.Request) error {
	item, dogs, err := s.salon.HeapPhoto(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	return heapPhotoView.show(s, w, r, heapPhotoPage{frame: frame{Tab: "heap"}, HeapItem: item, Dogs: dogs})
}

// heapPicture serves a size of a photo that waits. Its dog may change, its bytes never do.
func (s *Site) heapPicture(w http.ResponseWriter, r *http.Request) error {
	kind := salon.PictureKind(chi.URLParam(r, "kind"))
	if kind != salon.PictureThumb && kind != salon.PictureView {
		return timeline.NewFault(timeline.NotFound, "fault.not_found")
	}
	p, err := s.salon.HeapPicture(r.Context(), idOf(r, "id"), kind)
	if err != nil {
		return err
	}
	return sendPicture(w, r, p, "private, max-age=86400")
}
