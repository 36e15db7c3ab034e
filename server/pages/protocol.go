package pages

import "net/http"

type protocolPage struct{ frame }

var protocolView = declare[protocolPage]("protocol")

// protocol shows how to take a photo that can be measured; on paper it is one page for the wall.
func (s *Site) protocol(w http.ResponseWriter, r *http.Request) error {
	return protocolView.show(s, w, r, protocolPage{frame: frame{Tab: "protocol"}})
}
