// Package salon holds the use cases: a photo comes in, a session is logged, two photos are compared, a show is planned
// back from, a client is shown a page. The pages, the JSON interface, the jobs and the command line all call it.
//
// It owns what may be done, in which order, and what is refused and why. It refuses HTTP, HTML and sentences: what it
// says to people are phrases of the message catalogue, what it answers are values of timeline, coat and plan.
//
// Every error that a person can put right is a *timeline.Fault of kind Invalid, NotFound, Conflict or TooLarge, with the
// input field at fault; everything else is the store's or our own trouble and keeps its kind.
package salon
