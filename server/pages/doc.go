// Package pages is what the people of the salon see: one handler a file, one struct and one template a page.
//
// It owns the way from a request to a use case of server/salon and back to a page. It refuses to decide anything of the
// trade, to write SQL and to write sentences: texts are keys of the message catalogue.
//
// # How to add a page
//
//  1. A file here, named as the page, with its struct, its view and its handler:
//
//     type showsPage struct {
//     frame               // status, current tab, the dog whose tabs are shown
//     Shows []timeline.Show
//     Form  form          // what was typed and what was wrong with it
//     }
//
//     var showsView = declare[showsPage]("shows")
//
//     func (s *Site) shows(w http.ResponseWriter, r *http.Request) error {
//     dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
//     if err != nil {
//     return err // the adapter turns a Fault into its status and the page of faults
//     }
//     return showsView.show(s, w, r, showsPage{frame: frame{Tab: "shows", Dog: navOf(dog)}, …})
//     }
//
//  2. web/templates/pages/shows.html, which defines "title" and "content" and is given the struct as its dot. Functions
//     are in funcs.go, partials in web/templates/parts (each begins with a comment that says what it is given), and
//     /style shows all of them.
//
//  3. One line in routes.go, in order of path.
//
//  4. The texts in a file of your own, web/words/en/shows.json.
//
//  5. Its own styles, if the parts of /style are not enough, in web/styles/page-shows.css: class names begin with the
//     page's name. A script, if the page is better with one, in web/scripts/shows.js; the template of the page loads it
//     in {{define "scripts"}}, and the page must work without it.
//
// # An action
//
// A POST reads its form (readForm), turns fields into values (f.day, f.whole, f.length, f.rev: each names its field when
// it is wrong), acts, lets the next page say so (sayNext, a code of sayings) and redirects (seeOther, 303). What a
// person can put right is shown beside the form, with the input kept and the status of the fault:
//
//	if _, err := s.salon.AddShow(ctx, …); err != nil {
//		return f.again(err, func(code int) error { return s.showShows(w, r, code, f) }) // frame.Status = code, Form = f
//	}
//
// Nothing asks "are you sure": things go to the trash, and the next page offers to have them back.
//
// # Tabs
//
// frame.Tab is one of: today, trash, settings, account; and for a dog (frame.Dog set) dog, log, photos, compare, plan, growth, measured, readings,
// shows, client, edit. Their paths are in web/templates/parts/nav.html.
package pages
