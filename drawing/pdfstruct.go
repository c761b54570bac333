package drawing

import (
	"fmt"
	"strings"
)

// pdfStruct grows the tree that says what the parts of the pages are (ISO 32000-1, 14.7 and 14.8):
// Document > H1, and Sect > H2, P, L, Table, Figure.
type pdfStruct struct {
	file     *pdfOut
	document *pdfElement
	section  *pdfElement // that text belongs to
	all      []*pdfElement
	of       map[*Tag]*pdfElement
	pages    [][]int // for each page the elements of its marked contents, by number
}

type pdfElement struct {
	tag    *Tag
	number int // of the object
	parent *pdfElement
	kids   []string
	page   int // object of the page of its first content
	sheet  int // and that page, counted from 0
	at     Point
	text   string
	placed string // rectangle of a picture on its page
}

func newPDFStruct(file *pdfOut) *pdfStruct {
	s := &pdfStruct{file: file, of: map[*Tag]*pdfElement{}}
	s.document = s.make(&Tag{Role: "Document"}, nil)
	s.section = s.document
	return s
}

func (s *pdfStruct) make(t *Tag, parent *pdfElement) *pdfElement {
	e := &pdfElement{tag: t, number: s.file.reserve(), parent: parent}
	if parent != nil {
		parent.kids = append(parent.kids, fmt.Sprintf("%d 0 R", e.number))
	}
	s.all = append(s.all, e)
	return e
}

// element gives the part of the tree for a tag that is drawn within in, which may be nil.
func (s *pdfStruct) element(t *Tag, in *pdfElement) *pdfElement {
	if e := s.of[t]; e != nil {
		return e
	}
	parent := in
	switch {
	case t.Under != nil:
		parent = s.element(t.Under, in)
	case t.Role == RoleTitle:
		parent = s.document
	case t.Role == RoleHeading:
		s.section = s.make(&Tag{Role: "Sect"}, s.document)
		parent = s.section
	case in == nil:
		parent = s.section
	}
	e := s.make(t, parent)
	s.of[t] = e
	return e
}

// holdsText says whether words may stand right in it.
func (e *pdfElement) holdsText() bool {
	switch e.tag.Role {
	case RoleTable, RoleRow, RoleList, RoleItem:
		return false
	}
	return true
}

// content counts a new piece of content of an element on a page, and gives its number there.
func (s *pdfStruct) content(e *pdfElement, sheet, page int) int {
	for len(s.pages) <= sheet {
		s.pages = append(s.pages, nil)
	}
	id := len(s.pages[sheet])
	s.pages[sheet] = append(s.pages[sheet], e.number)
	if e.page == 0 {
		e.page, e.sheet = page, sheet
	}
	if e.page == page {
		e.kids = append(e.kids, fmt.Sprint(id))
	} else {
		e.kids = append(e.kids, fmt.Sprintf("<</Type /MCR /Pg %d 0 R /MCID %d>>", page, id))
	}
	return id
}

// write adds the tree and gives the number of its root.
func (s *pdfStruct) write() int {
	root := s.file.reserve()
	for _, e := range s.all {
		parent := root
		if e.parent != nil {
			parent = e.parent.number
		}
		var more strings.Builder
		if e.page != 0 {
			fmt.Fprintf(&more, " /Pg %d 0 R", e.page)
		}
		switch e.tag.Role {
		case RolePicture:
			more.WriteString(" /Alt " + pdfTextString(letters(e.tag.Alt)))
			if e.placed != "" {
				fmt.Fprintf(&more, " /A <</O /Layout /Placement /Block /BBox [%s]>>", e.placed)
			}
		case RoleHeadCell:
			more.WriteString(" /A <</O /Table /Scope /Column>>")
		}
		s.file.set(e.number, fmt.Sprintf("<</Type /StructElem /S /%s /P %d 0 R%s /K [%s]>>", e.tag.Role, parent,
			more.String(), strings.Join(e.kids, " ")))
	}
	var nums strings.Builder
	for i, list := range s.pages {
		fmt.Fprintf(&nums, "%d [%s] ", i, pdfRefs(list))
	}
	parents := s.file.add("<</Nums [%s]>>", nums.String())
	s.file.set(root, fmt.Sprintf("<</Type /StructTreeRoot /K [%d 0 R] /ParentTree %d 0 R /ParentTreeNextKey %d>>",
		s.document.number, parents, len(s.pages)))
	return root
}

// bookmark leads to a place of a page.
type bookmark struct {
	title string
	page  int // object of the page
	top   float64
	under bool // the first bookmark
}

// bookmarks are the headings of a document; those of a document without any are the names of its pages.
func (s *pdfStruct) bookmarks(pages []*Drawing, numbers []int) []bookmark {
	var out []bookmark
	titled := false // the first is the title, and the headings stand under it
	for _, e := range s.all {
		if (e.tag.Role == RoleTitle || e.tag.Role == RoleHeading) && e.text != "" && e.page != 0 {
			const above = 6 // mm: the line is seen as a whole
			top := min(max(pages[e.sheet].Height-e.at.Y+above, 0), pages[e.sheet].Height)
			out = append(out, bookmark{e.text, e.page, top * mm, titled && e.tag.Role == RoleHeading})
			titled = titled || len(out) == 1 && e.tag.Role == RoleTitle
		}
	}
	if len(out) > 0 || len(pages) < 2 {
		return out
	}
	for i, d := range pages {
		if d.Title != "" {
			out = append(out, bookmark{title: letters(d.Title), page: numbers[i], top: d.Height * mm})
		}
	}
	return out
}

// outline adds the bookmarks and gives the number of their root; 0: there are none.
func outline(f *pdfOut, list []bookmark) int {
	if len(list) == 0 {
		return 0
	}
	root := f.reserve()
	numbers := make([]int, len(list))
	var top, below []int // by place in the list
	for i, b := range list {
		numbers[i] = f.reserve()
		if b.under {
			below = append(below, i)
		} else {
			top = append(top, i)
		}
	}
	link := func(kin []int, parent int, kids []int) {
		for k, i := range kin {
			entry := fmt.Sprintf("<</Title %s /Parent %d 0 R /Dest [%d 0 R /XYZ 0 %.2f null]",
				pdfTextString(list[i].title), parent, list[i].page, list[i].top)
			if k > 0 {
				entry += fmt.Sprintf(" /Prev %d 0 R", numbers[kin[k-1]])
			}
			if k+1 < len(kin) {
				entry += fmt.Sprintf(" /Next %d 0 R", numbers[kin[k+1]])
			}
			if i == 0 && len(kids) > 0 {
				entry += fmt.Sprintf(" /First %d 0 R /Last %d 0 R /Count %d", numbers[kids[0]],
					numbers[kids[len(kids)-1]], len(kids))
			}
			f.set(numbers[i], entry+">>")
		}
	}
	link(top, root, below)
	link(below, numbers[0], nil)
	f.set(root, fmt.Sprintf("<</Type /Outlines /First %d 0 R /Last %d 0 R /Count %d>>", numbers[top[0]],
		numbers[top[len(top)-1]], len(list)))
	return root
}
