package pages

import (
	"net/http"

	"thatch/server/status"
	"thatch/timeline"
)

// notToday ends a visit without work, for a reason.
func (s *Site) notToday(w http.ResponseWriter, r *http.Request) error {
	return s.sessionTap(w, r, "session.off", "", func(f form, id timeline.ID, rev timeline.Rev) error {
		next, err := f.day("again")
		if err == nil {
			_, err = s.salon.NotToday(r.Context(), id, rev, timeline.NotToday(f.Get("not_today")), f.Get("add"), next)
		}
		if fault := status.Fault(err); err != nil && fault.Field == "next" {
			return fault.In("again")
		}
		return err
	})
}

// repeatLast logs the last visit's work once more.
func (s *Site) repeatLast(w http.ResponseWriter, r *http.Request) error {
	return s.sessionTap(w, r, "session.repeated", "#done", func(f form, id timeline.ID, rev timeline.Rev) error {
		var zones []timeline.Zone
		for _, z := range f.Values["zones"] {
			zones = append(zones, timeline.Zone(z))
		}
		_, err := s.salon.RepeatLast(r.Context(), id, rev, zones)
		return err
	})
}

// undoLast puts the session back to what it was before its last change.
func (s *Site) undoLast(w http.ResponseWriter, r *http.Request) error {
	return s.sessionTap(w, r, "session.undone", "", func(f form, id timeline.ID, rev timeline.Rev) error {
		_, _, err := s.salon.UndoLast(r.Context(), id, rev)
		return err
	})
}

// sessionTap is a change of a session that ends on its page; refused, the page comes again with what was said.
func (s *Site) sessionTap(w http.ResponseWriter, r *http.Request, code, back string, act func(f form, id timeline.ID, rev timeline.Rev) error) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	rev, err := f.rev()
	if err == nil {
		err = act(f, id, rev)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showSession(w, r, code, form{}, f) })
	}
	sayNext(w, r, code, "", "")
	return seeOther(w, r, "/sessions/"+string(id)+back)
}

// sessionTilesShown are so many of a session's photos on its page, the newest: a dog that fidgets is photographed a hundred
// times in a morning. All of them are one tap away.
const sessionTilesShown = 24

// sessionTiles are the tiles of a session's photos: all, or the newest of them.
type sessionTiles struct {
	ID     timeline.ID
	Photos []timeline.Photo // shown
	N      int              // there are
	All    bool             // all were asked for
}

func tilesOf(r *http.Request, id timeline.ID, photos []timeline.Photo) sessionTiles {
	t := sessionTiles{ID: id, Photos: photos, N: len(photos), All: r.URL.Query().Get("photos") == "all"}
	if !t.All {
		t.Photos = photos[max(0, len(photos)-sessionTilesShown):]
	}
	return t
}

type sessionPhotosPage struct {
	frame
	Tiles sessionTiles
}

var sessionPhotosView = declare[sessionPhotosPage]("sessionphotos")

// sessionPhotos are the tiles of a session's photos alone: an open page asks for them, and those that another phone has sent
// meanwhile appear.
func (s *Site) sessionPhotos(w http.ResponseWriter, r *http.Request) error {
	id := idOf(r, "id")
	photos, err := s.salon.SessionPhotos(r.Context(), id)
	if err != nil {
		return err
	}
	return sessionPhotosView.bare(s, w, r, sessionPhotosPage{Tiles: tilesOf(r, id, photos)})
}
