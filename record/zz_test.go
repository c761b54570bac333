package record
import ("testing";"fmt";"phasewright/procedure")
func zz(t *testing.T, j *Job) { says, err := j.Judge(); if err!=nil {t.Fatal(err)}; for _, c := range says.Clauses { fmt.Println(c.ID, c.State, c.By, c.Because) }
 p,_ := j.Proof(); fmt.Println(p.Words) 
 for _, r := range j.Readings { fmt.Println(r.RPM, r.Shown, r.Wire, r.Step, r.U, r.Origin.Configuration) } 
 for _, w := range p.Is.Wires { fmt.Printf("%+v\n", w) } }
func TestZZ(t *testing.T) { s := carded(t).upTo(procedure.StepIdle); _ = s; j := s.proven().job(); zz(t, j) }
