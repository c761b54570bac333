package drawing

// Role is what a part of a sheet is to somebody who does not see it (the standard structure types of ISO 32000-1,
// 14.8.4).
type Role string

// The roles. What has none is a paragraph if it is text, and decoration if it is a line or an area.
const (
	RoleTitle    Role = "H1" // of the whole document
	RoleHeading  Role = "H2" // begins a section
	RoleText     Role = "P"
	RoleTable    Role = "Table" // holds rows
	RoleRow      Role = "TR"    // holds cells
	RoleHeadCell Role = "TH"
	RoleCell     Role = "TD"
	RoleList     Role = "L"     // holds items
	RoleItem     Role = "LI"    // holds a name and what is said of it
	RoleName     Role = "Lbl"   // beside it
	RoleSaid     Role = "LBody" // of the item
	RolePicture  Role = "Figure"
	aside        Role = "Artifact"
)

// Tag is one part of a document, which may be drawn in several pieces and on several pages: every piece carries the
// same Tag. The parts of a section follow each other as they are drawn first.
type Tag struct {
	Role  Role
	Under *Tag   // the table of a row, the row of a cell; nil: the section
	Alt   string // what a picture shows, in words

	box Point // width and height of a picture, mm
}

// Aside is the tag of what says nothing new: heads and feet that every page repeats.
var Aside = &Tag{Role: aside}

// As draws what draw adds as the part t. Within a picture or an aside all is part of that.
func (d *Drawing) As(t *Tag, draw func()) {
	in := &group{tag: t}
	d.add(in)
	d.open = append(d.open, in)
	draw()
	d.open = d.open[:len(d.open)-1]
}

// Parts says in which order parts follow each other, also those that nothing is drawn of, as the empty cells of a
// table.
func (d *Drawing) Parts(tags []*Tag) { d.add(&group{order: tags}) }

// As returns t for text of the part tag.
func (t TextStyle) As(tag *Tag) TextStyle { t.Tag = tag; return t }

// pictureOf is the tag of a whole drawing.
func pictureOf(d *Drawing) *Tag {
	alt := d.Title
	if d.Desc != "" && d.Desc != d.Title {
		if alt != "" {
			alt += ". "
		}
		alt += d.Desc
	}
	if alt == "" {
		alt = "drawing"
	}
	return &Tag{Role: RolePicture, Alt: alt, box: Point{d.Width, d.Height}}
}
