package pages

import "net/http"

// outboxPage lists what waits on this device to be sent; only the device knows it, so a script fills it in.
type outboxPage struct{ frame }

// offlinePage is shown in place of a page that is not kept, while there is no network; a script lists what is.
type offlinePage struct{ frame }

var (
	outboxView  = declare[outboxPage]("outbox")
	offlineView = declare[offlinePage]("offline")
)

func (s *Site) outbox(w http.ResponseWriter, r *http.Request) error {
	return outboxView.show(s, w, r, outboxPage{frame{Tab: "outbox"}})
}

func (s *Site) offline(w http.ResponseWriter, r *http.Request) error {
	return offlineView.show(s, w, r, offlinePage{})
}
