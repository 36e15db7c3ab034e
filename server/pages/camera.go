package pages

import (
	"io"
	"mime"
	"net/http"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
)

type cameraPage struct {
	frame
	Nav *dogNav
	salon.Ghost
	Sides []timeline.Side
}

// GhostPicture is the address of the photo that lies over the camera's picture; "": there is none.
func (p cameraPage) GhostPicture() string {
	if p.Photo.ID == "" {
		return ""
	}
	return laidURL(p.Photo.ID, p.Ref, true)
}

var cameraView = declare[cameraPage]("camera")

// cameraPolicy lets this one page have the camera, and what a level is told by.
const cameraPolicy = "camera=(self), accelerometer=(self), gyroscope=(self), magnetometer=(self), microphone=(), geolocation=(), interest-cohort=()"

// camera is where a photo is taken after the last one: /dogs/{id}/camera?side=left
func (s *Site) camera(w http.ResponseWriter, r *http.Request) error {
	g, err := s.salon.GhostOf(r.Context(), idOf(r, "id"), timeline.Side(r.URL.Query().Get("side")))
	if err != nil {
		return err
	}
	w.Header().Set("Permissions-Policy", cameraPolicy)
	return cameraView.show(s, w, r, cameraPage{frame: frame{Tab: "photos", Dog: navOf(g.Dog)}, Nav: navOf(g.Dog), Ghost: g, Sides: timeline.Sides()})
}

// frameSays is what the page is told of a picture that it sent while the camera is held. Places are shares of its size.
type frameSays struct {
	Marker [][2]float64  `json:"marker"` // corners; empty: not seen
	Facing timeline.Side `json:"facing"`
	Hints  []string      `json:"hints"` // sentences
}

// cameraFrame looks at a small JPEG and forgets it: 413 too large, 422 no JPEG, 429 one too many at once.
func (s *Site) cameraFrame(w http.ResponseWriter, r *http.Request) error {
	out, err := s.readFrame(r)
	if err != nil {
		status.RetryAfter(w.Header(), err)
		return s.tellFault(w, r, err)
	}
	return tell(w, http.StatusOK, out)
}

func (s *Site) readFrame(r *http.Request) (frameSays, error) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "image/jpeg" {
		return frameSays{}, timeline.NewFault(timeline.Invalid, "fault.frame.form").In("frame")
	}
	b, err := io.ReadAll(io.LimitReader(r.Body, salon.MaxFrameBytes+1))
	if err != nil {
		return frameSays{}, timeline.NewFault(timeline.Invalid, "fault.frame.form").In("frame").Because(err)
	}
	q := r.URL.Query()
	look, err := s.salon.LookAtFrame(r.Context(), idOf(r, "id"), timeline.Side(q.Get("side")), b, q.Get("dog") == "on")
	if err != nil {
		return frameSays{}, err
	}
	out := frameSays{Marker: [][2]float64{}, Facing: look.Facing, Hints: []string{}}
	if look.Marker != nil {
		for _, c := range look.Marker.CornersPX {
			out.Marker = append(out.Marker, [2]float64{(c.X + 0.5) / float64(look.WidthPX), (c.Y + 0.5) / float64(look.HeightPX)})
		}
	}
	sp := speakerOf(visitOf(r).settings)
	for _, h := range look.Hints {
		out.Hints = append(out.Hints, sp.Say(h))
	}
	return out, nil
}

// laidURL is the address of a photo laid over another; over itself it is the photo as it came.
func laidURL(photo, ref timeline.ID, half bool) string {
	to := "/photos/" + string(photo) + "/over/" + string(ref)
	if half {
		to += "?size=half"
	}
	return to
}
