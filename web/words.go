package web

import (
	"phasewright/web/page"
	"phasewright/words"
)

// wordsPage lists the words of the trade, where the links in the texts of all pages lead.
func (s *Server) wordsPage(q *page.Request) error {
	return q.Render(page.Page{View: "words", Title: "Words", Where: "Words", Body: words.Entries()})
}
