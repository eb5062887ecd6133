package wording

import (
	"strings"
	"sync"
)

// Shown is what there is to see in the demonstration, in a language. Its texts
// are English ones: a head and, after two blanks, what is seen there; figures
// stay as they are. What its instruments show is of the practice houses.
func Shown(l Lang, text string) string {
	if OnPaper(l) != Spanish {
		return text
	}
	head, seen, _ := strings.Cut(text, "  ")
	if t, ok := esShown()[head]; ok {
		head = t
	}
	if t, ok := esShown()[seen]; ok {
		seen = t
	}
	if l == SpanishScreen {
		head, seen = Fold(head), Fold(seen)
	}
	return head + "  " + seen
}

var esShown = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"THE HOUSE":     "LA CASA",
		"OUTDOORS":      "AFUERA",
		"YOUR GAUGE":    "SU MANÓMETRO",
		"YOUR ANALYSER": "SU ANALIZADOR",
		"THE ROOM":      "EL CUARTO",
		"THE PLATE":     "LA PLACA",
		"THE VENT":      "EL CONDUCTO",
		"YOU SEE":       "USTED VE",
		"YOU FIND":      "USTED HALLA",
		"YOU":           "USTED",
		"THE FILE":      "EL ARCHIVO",
		"THE AIR":       "EL AIRE",
		"YOUR CHOICE":   "SU DECISIÓN",
		"THE HOUSEHOLD": "LOS HABITANTES",
		"THE PLAN":      "EL PLAN",
		"THE PAPERS":    "LOS PAPELES",
		"FIRE SERVICE":  "LOS BOMBEROS",

		"no alarm, nobody ill, no smell":    "sin alarma, malestar ni olor",
		"all of these are so":               "todo esto es así",
		"an invented one, 0.1 Pa":           "uno inventado, 0.1 Pa",
		"an invented one":                   "uno inventado",
		"stands alone":                      "está sola",
		"a furnace and a water heater":      "calefactor y calentador de agua",
		"both stand in the basement":        "los dos en el sótano",
		"15 by 30 by 8 feet":                "15 por 30 por 8 pies",
		"a plain door atop the stair":       "puerta simple sobre la escalera",
		"natural gas, 80,000 Btu/h":         "gas natural, 80,000 Btu/h",
		"natural gas, 40,000 Btu/h":         "gas natural, 40,000 Btu/h",
		"natural draft, draft hood":         "tiro natural, campana de tiro",
		"lights; has a port; draft hood":    "enciende; puerto; campana",
		"the water heater is on it too":     "también el calentador de agua",
		"the furnace is on it too":          "también el calefactor",
		"bath fan, range hood, dryer":       "extractor, campana, secadora",
		"two bedrooms, a bath":              "dos dormitorios, un baño",
		"one, the furnace blower":           "una, la del calefactor",
		"not known":                         "no se sabe",
		"not measured":                      "sin medir",
		"nothing wrong":                     "nada malo",
		"all done":                          "todo hecho",
		"both off for two hours":            "apagados hace dos horas",
		"off for two hours":                 "apagados hace dos horas",
		"moved when pinched, came back":     "se movió al apretar y volvió",
		"this once, go on":                  "esta vez, seguir",
		"no more readings today":            "hoy no más lecturas",
		"as before":                         "como antes",
		"the flame stays as it was":         "la llama sigue igual",
		"all as you found it":               "todo como lo encontró",
		"is at home":                        "están en casa",
		"is outside":                        "están afuera",
		"sign with your initials":           "firme con sus iniciales",
		"as last time":                      "como la vez pasada",
		"serviced by a licensed technician": "revisado por técnico con licencia",
		"is set so":                         "está así",
		"is cool":                           "está frío",
		"still so":                          "sigue así",
		"stayed shut":                       "quedó cerrada",
		"hoses looked at: in order":         "mangueras revisadas: en orden",
		"nothing that gives it off":         "nada que lo emita",
		"has cleared":                       "se limpió",
		"cleared the house":                 "dieron paso a la casa",
	}
})
