package pages

import (
	"net/http"

	"thatch/server/salon"
)

type trashPage struct {
	frame
	Items []salon.TrashItem // newest first
	Days  int               // that a thing can be had back
}

var trashView = declare[trashPage]("trash")

func (s *Site) trash(w http.ResponseWriter, r *http.Request) error {
	items, err := s.salon.Trash(r.Context())
	if err != nil {
		return err
	}
	return trashView.show(s, w, r, trashPage{frame: frame{Tab: "trash"}, Items: items, Days: salon.TrashDays})
}
