package pages

import "net/http"

type stylePage struct {
	frame
}

var styleView = declare[stylePage]("style")

// style is the guide to our own looks: every part with every state, as the pages use them.
func (s *Site) style(w http.ResponseWriter, r *http.Request) error {
	return styleView.show(s, w, r, stylePage{})
}
