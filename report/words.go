package report

import (
	"fmt"
	"strings"
	"sync"

	"cazward/procedure"
	"cazward/procedure/wording"
)

// aboutWhat sorts findings by what was measured; the judge's rule names say.
type aboutWhat int

const (
	aboutOther aboutWhat = iota
	aboutNet
	aboutSpill
	aboutDraft
	aboutCO
)

func about(f procedure.Finding) aboutWhat {
	r := f.Rule
	switch {
	case strings.HasPrefix(r, "spill"):
		return aboutSpill
	case strings.HasPrefix(r, "draft"):
		return aboutDraft
	case r == "co" || strings.HasPrefix(r, "co-") || strings.HasPrefix(r, "co."):
		return aboutCO
	case strings.Contains(r, "pressur") || strings.HasPrefix(r, "net"):
		return aboutNet
	}
	return aboutOther
}

// t gives a label in the language of the report, English where the other is
// missing. A key without a label is shown as itself, which a test refuses.
func (b *builder) t(key string, args ...any) string {
	s, ok := labels()[key]
	if !ok {
		return key
	}
	text := s[0]
	if b.lang == wording.Spanish && s[1] != "" {
		text = s[1]
	}
	if len(args) == 0 || !strings.Contains(text, "%") {
		return text
	}
	return fmt.Sprintf(text, args...)
}

// Label gives one of the fixed words that writers need: "why", "do",
// "page-of" and so on.
func (r Report) Label(key string, args ...any) string {
	return (&builder{lang: r.Lang}).t(key, args...)
}

// labels of the report: English, Spanish. Sentences about findings, cautions
// and steps come from procedure/wording.
var labels = sync.OnceValue(func() map[string][2]string {
	return map[string][2]string{
		"title": {"Combustion safety report", "Informe de seguridad de combustión"}, "practice": {"PRACTICE - invented house, not a real test", "PRÁCTICA - casa inventada, no es una prueba real"},
		"page-of": {"page %d of %d", "página %d de %d"}, "closing-of": {"closing hash: %s", "hash de cierre: %s"}, "not-closed": {"not closed", "no cerrado"},
		"decision": {"Decision", "Decisión"}, "decision-more": {"Decision, all lines", "Decisión, todas las líneas"}, "more": {"and %d more: page 2", "y %d más: página 2"}, "more-names": {"all of it: page 2", "todo: página 2"},
		"why": {"WHY", "POR QUÉ"}, "do": {"DO", "QUÉ HACER"}, "appliances": {"APPLIANCES", "APARATOS"}, "cautions": {"CAUTIONS", "PRECAUCIONES"},
		"put-back": {"HOUSE PUT BACK", "CASA RESTABLECIDA"}, "not-tested-list": {"NOT TESTED", "NO PROBADO"}, "risks": {"ACCEPTED RISK", "RIESGO ACEPTADO"}, "holds": {"HOLDS", "VALE"},
		"open-item": {"OPEN: %s", "PENDIENTE: %s"}, "continued": {"(continued)", "(continúa)"}, "none": {"none", "ninguno"},
		"n-of-m": {"%s of %s", "%s de %s"}, "put-back-more": {"more lines of the list have no answer", "otras líneas de la lista sin respuesta"},
		"put-back-none": {"NOT RECORDED - see that the house is as it was found", "NO REGISTRADO - compruebe que la casa está como se encontró"}, "put-back-nothing": {"nothing to put back: the house was not changed", "nada que restablecer: la casa no se cambió"},
		"why-missing": {"Things that the test needs are missing; what was not measured is never a pass.", "Falta lo que la prueba necesita; lo no medido nunca es un aprobado."},
		"all-pass":    {"Each of the %d things judged passes, as the house and the weather were.", "Cada una de las %d cosas juzgadas pasa, tal como estaban la casa y el tiempo."},
		"none-judged": {"Nothing was judged, so nothing is known to be safe.", "No se juzgó nada; no se sabe que nada sea seguro."}, "none-burns": {"Nothing here burns fuel, so nothing had to vent.", "Aquí nada quema combustible; nada tenía que evacuar."},
		"not-asked": {"%s: not asked under %s", "%s: no se pide en %s"}, "risk": {"Life-safety row %s was loosened. Reason given: %s", "Se aflojó la fila de seguridad %s. Razón dada: %s"},
		"no-status":            {"no status given: treat as not tested", "sin estado: como no probado"},
		"caution-open":         {"This record is not closed: the result can still change.", "Este registro no está cerrado: el resultado puede cambiar."},
		"caution-differs":      {"Judged again for this report. The record was closed on: %s", "Juzgado de nuevo para este informe. El registro se cerró con: %s"},
		"caution-other-scheme": {"The test was walked under %s and is judged here under %s.", "La prueba siguió %s y aquí se juzga con %s."},
		"caution-doubts":       {"Readings with an open doubt: %s (see Doubts).", "Lecturas con duda abierta: %s (ver Dudas)."},
		"caution-memory":       {"Figures from memory, not checked against the document: %s (see Figures).", "Cifras de memoria, no cotejadas con el documento: %s (ver Cifras)."},
		"caution-co":           {"Carbon monoxide cannot be seen or smelled. CO alarm sounds, or people feel ill: everyone out, call from outside.", "El monóxido de carbono no se ve ni se huele. Si suena la alarma o alguien se siente mal: todos afuera, llame desde afuera."},
		"told":                 {"Told", "Avisado"}, "told-nobody": {"nobody recorded", "nadie registrado"}, "names-more": {"%s and %d more, all named under APPLIANCES", "%s y %d más, todos nombrados en APARATOS"},
		"home": {"Home", "Vivienda"}, "record": {"Record", "Registro"}, "phase": {"Phase", "Fase"}, "tested": {"Tested", "Probado"}, "tester": {"Tester", "Probador"},
		"scheme": {"Limit scheme", "Esquema"}, "weather": {"Weather", "Tiempo"}, "later": {"later", "después"}, "not-entered": {"not entered", "no indicado"}, "not-tested": {"not tested", "no probado"}, "not-known": {"not known", "no se sabe"},

		"s-readings": {"Readings in order, with the set-up of the house", "Lecturas en orden, con la disposición de la casa"}, "s-zones": {"Zones at worst case", "Zonas en el peor caso"}, "s-appliances": {"Appliances", "Aparatos"},
		"s-room": {"Room air, hazards and who was told", "Aire ambiente, peligros y a quién se avisó"}, "s-checks": {"What was looked at", "Lo que se miró"}, "s-instruments": {"Instruments and weather", "Instrumentos y tiempo"},
		"s-doubts": {"Doubts about readings", "Dudas sobre lecturas"}, "s-corrections": {"Corrections", "Correcciones"}, "s-skips": {"Steps left out", "Pasos omitidos"}, "s-notes": {"Notes", "Notas"},
		"s-findings": {"Findings", "Resultados"}, "s-figures": {"Figures that decided, and where they come from", "Cifras que decidieron, y su origen"}, "s-compare": {"Compared with the earlier phase", "Comparado con la fase anterior"}, "s-record": {"The record", "El registro"},

		"n-readings": {"Pressures are the zone with reference to outdoors, drafts the vent with reference to the zone; minus means lower. Mean and spread are in Pa. Bold or *: the reading held at worst case. A reading marked not used stays for the record only.",
			"Las presiones son de la zona respecto al exterior, los tiros del conducto respecto a la zona; menos significa más bajo. Media y dispersión en Pa. Negrita o *: la lectura mantenida en el peor caso. Una lectura no usada queda solo en el registro."},
		"n-as-before":   {"%s: held as the record before this one found it, and not searched for again; only leaks were sealed since, as the tester said.", "%s: sostenido como lo halló el registro anterior, sin buscarlo de nuevo; desde entonces solo se sellaron fugas, según quien probó."},
		"n-zones":       {"Net is the worst-case reading minus the baseline that gives the most negative net; minus means lower than outdoors. Inside its limit, but reaching it within the give-or-take, is too close and counts as a fail.", "La neta es la lectura del peor caso menos la base que da la neta más negativa. Dentro del límite pero alcanzándolo con su margen es demasiado cerca y cuenta como fallo."},
		"n-uncertainty": {"Give-or-take U = %s u (own rule): scatter of the samples, drift of the baselines, and gauge accuracy where the gauge's own is not known: %s Pa or %s %%, the larger. One averaged value takes s = %s Pa; resolution %s Pa.", "Margen U = %s u (regla propia): dispersión de las muestras, deriva de las bases y exactitud del manómetro si no se conoce la suya: %s Pa o %s %%, la mayor. Un solo promedio toma s = %s Pa; resolución %s Pa."},
		"n-appliances":  {"Spillage time runs from main-burner light-off. CO is as measured; CO air-free is worked out from the O2 of the same sample.", "El tiempo de derrame corre desde el encendido. CO tal como se midió; CO sin aire calculado con el O2 de la misma muestra."},
		"n-corrections": {"Old and new value both stay in the record.", "El valor viejo y el nuevo quedan en el registro."},
		"n-figures":     {"A figure from memory stays so marked until a person has checked it against the document and says so by name.", "Una cifra de memoria queda marcada hasta que una persona la coteje con el documento y lo firme."},
		"n-record":      {"The closing hash is the SHA-256 of the closing line of the record. A record whose closing hash differs from the one printed here is not the one this report was made from.", "El hash de cierre es el SHA-256 de la línea de cierre. Un registro con otro hash no es el de este informe."},
		"none-taken":    {"No pressure was read.", "No se leyó ninguna presión."}, "no-zones": {"No zone was listed.", "No se listó ninguna zona."}, "no-appliances": {"No appliance was listed.", "No se listó ningún aparato."},
		"none-ambient": {"Ambient CO was not read.", "No se leyó el CO ambiente."}, "none-hazards": {"Hazards: none recorded.", "Peligros: ninguno registrado."}, "none-told": {"Who was told: nobody recorded.", "A quién se avisó: nadie registrado."},
		"no-checks": {"Nothing was looked at.", "No se miró nada."}, "no-instruments": {"No instrument was entered.", "No se indicó ningún instrumento."}, "no-doubts": {"None was raised.", "Ninguna."}, "no-corrections": {"None was made.", "Ninguna."},
		"no-skips": {"None was left out.", "Ninguno."}, "no-notes": {"None was written.", "Ninguna."}, "no-findings": {"Nothing was judged.", "No se juzgó nada."}, "no-who": {"Who tested: not recorded.", "Quién probó: no registrado."}, "no-figures": {"No row of the table decided.", "Ninguna fila decidió."}, "u-unknown": {"How the give-or-take is made up is not known here.", "No se sabe aquí cómo se forma el margen."}, "leads-to": {"%s: leads to %s", "%s: lleva a %s"}, "no-signs": {"Sign-offs: none.", "Firmas de revisión: ninguna."},

		"c-line": {"Line", "Lín."}, "c-time": {"Time", "Hora"}, "c-reading": {"Reading", "Lectura"}, "c-typed": {"As typed", "Como se escribió"}, "c-mean": {"Mean Pa", "Media Pa"}, "c-spread": {"Spread", "Disp."},
		"c-zone": {"Zone", "Zona"}, "c-baselines": {"Baseline Pa", "Base Pa"}, "c-worst": {"Worst Pa", "Peor Pa"}, "c-net": {"Net Pa", "Neta Pa"}, "c-u": {"+/- U Pa", "+/- U Pa"}, "c-limit": {"Limit Pa", "Límite Pa"}, "c-verdict": {"Verdict", "Veredicto"},
		"c-appliance": {"Appliance", "Aparato"}, "c-kind": {"Kind", "Tipo"}, "c-fuel": {"Fuel", "Combust."}, "c-input": {"Input", "Potencia"}, "c-vent": {"Vent", "Evacuación"}, "c-facts": {"What changes the test", "Lo que cambia la prueba"},
		"t-is": {"What each appliance is", "Qué es cada aparato"}, "t-was": {"What was measured on each", "Qué se midió en cada uno"}, "c-spill": {"Spillage, worst case", "Derrame, peor caso"}, "c-spill-rest": {"Spillage, natural", "Derrame, natural"},
		"c-draft": {"Draft Pa, worst case", "Tiro Pa, peor caso"}, "c-draft-rest": {"Draft Pa, natural", "Tiro Pa, natural"}, "c-co": {"CO as measured", "CO medido"}, "c-o2": {"O2 %", "O2 %"}, "c-airfree": {"CO air-free", "CO sin aire"}, "c-status": {"Status", "Estado"},
		"t-ambient": {"Ambient CO and gas in the air", "CO ambiente y gas en el aire"}, "t-hazards": {"Hazards", "Peligros"}, "t-told": {"Who was told", "A quién se avisó"}, "c-where": {"Where, when", "Dónde, cuándo"}, "c-ppm": {"Reading", "Lectura"}, "c-what": {"What", "Qué"}, "c-source-found": {"Source", "Origen"},
		"c-whom": {"Who", "Quién"}, "c-how": {"How", "Cómo"}, "c-stage": {"Stage, thing", "Etapa, cosa"}, "c-wrong": {"NOT in order, or not seen", "NO en orden, o no visto"}, "c-order": {"In order", "En orden"},
		"c-instrument": {"Instrument", "Instrumento"}, "c-name": {"Name", "Nombre"}, "c-serial": {"Serial number", "Nº de serie"}, "c-calibrated": {"Calibrated", "Calibrado"}, "c-accuracy": {"Resolution, accuracy", "Resolución, exactitud"},
		"c-doubt": {"Doubt", "Duda"}, "c-about": {"About", "Sobre"}, "c-settled": {"Settled", "Resuelta"}, "c-when": {"When", "Cuándo"}, "c-old": {"Old", "Viejo"}, "c-new": {"New", "Nuevo"}, "c-reason": {"Reason", "Razón"}, "c-who": {"Who", "Quién"}, "c-needed": {"Needed", "Necesario"},
		"c-at": {"At", "En"}, "c-note": {"Note", "Nota"}, "c-finding": {"Finding", "Resultado"}, "c-margin": {"Margin", "Margen"}, "c-leads": {"Leads to", "Lleva a"}, "c-row": {"Row", "Fila"}, "c-figure": {"Figure", "Cifra"}, "c-source": {"Source", "Fuente"}, "c-evidence": {"Evidence", "Evidencia"},
		"c-sha256": {"SHA-256", "SHA-256"}, "c-type": {"Type", "Tipo"}, "c-bytes": {"Bytes", "Bytes"}, "c-signature": {"Signature", "Firma"}, "then": {"Then", "Antes"},
		"t-who": {"Who tested", "Quién probó"}, "t-kept": {"Kept beside the record", "Guardado junto al registro"}, "t-signs": {"Sign-offs", "Firmas de revisión"},

		"replaced": {"not used, taken again at line %d", "no usada, repetida en la línea %d"}, "not-used": {"not used, what it rests on has changed", "no usada, cambió aquello en que se basa"},
		"averaged": {", averaged over %s s", ", promedio de %s s"}, "mean-typed": {"mean %s, spread %s %s", "media %s, dispersión %s %s"}, "off-on": {"off / on: %s %s", "apagado / encendido: %s %s"},
		"log-window": {"log window, %d values, %s to %s, s %s, standard error %s %s", "ventana de registro, %d valores, %s a %s, s %s, error típico %s %s"},
		"setup-none": {"No set-up of the house is recorded for these.", "Sin disposición de la casa registrada."}, "setup-at": {"Set-up, line %d:", "Disposición, línea %d:"},
		"fans-off": {"all fans OFF", "ventiladores APAGADOS"}, "is-on": {"%s ON", "%s ENCENDIDO"}, "fans-rest": {"other fans OFF", "otros APAGADOS"}, "fans-not-run": {"WILL NOT RUN: %s", "NO FUNCIONA: %s"}, "stand-in": {"fireplace stand-in %s %s ON", "sustituto de chimenea %s %s ENCENDIDO"},
		"air-off": {"air handler OFF", "manejadora APAGADA"}, "doors-shut": {"doors SHUT: %s", "puertas CERRADAS: %s"}, "doors-rest": {"other inside doors OPEN", "otras puertas ABIERTAS"}, "doors-open": {"inside doors OPEN", "puertas interiores ABIERTAS"},
		"caz-open": {"CAZ door OPEN", "puerta de la zona ABIERTA"}, "caz-shut": {"CAZ door SHUT", "puerta de la zona CERRADA"},
		"no-pa-limit": {"this scheme sets no Pa limit", "este esquema no fija límite en Pa"}, "recorded": {"recorded", "registrado"}, "no-figure": {"no figure", "sin cifra"}, "never-held": {"never held at worst case.", "nunca mantenida en el peor caso."}, "untouched": {"no appliance here that house pressure acts on, so it is not held at worst case.", "aquí no hay aparato sobre el que actúe la presión de la casa: no se mantiene en el peor caso."}, "held-at": {"held at worst case with %s.", "mantenida en el peor caso con %s."},
		"pairs-net": {"Net from %d off/on pairs.", "Neta de %d pares apagado/encendido."}, "lowest-at": {"The net rests on line %d, which was lower: %s.", "La neta se basa en la línea %d, más baja: %s."}, "limit-below": {"limit: net %s", "límite: neta %s"}, "trace-base": {"baseline", "base"}, "trace-worst": {"worst case +/- U", "peor caso +/- U"},
		"trace-title": {"%s: pressure with reference to outdoors, Pa, by line of the readings", "%s: presión respecto al exterior, Pa, por línea de lectura"},
		"of-limit":    {" (limit %s)", " (límite %s)"}, "spill-none": {"drawn in at once", "aspirado al momento"}, "spill-stopped": {"drawn in at %s s", "aspirado a los %s s"}, "spill-still": {"still spilling at %s s", "aún derramaba a los %s s"}, "spill-": {"no outcome", "sin resultado"},
		"vent-cold-yes": {"vent cold", "conducto frío"}, "vent-cold-no": {"vent warm", "conducto caliente"}, "vent-cold-": {"vent cold or warm not known", "frío o caliente no se sabe"}, "together-spilled": {"SPILLED with all on the vent lit", "DERRAMÓ con todos encendidos"},
		"not-lit": {"not lit: not safe", "no encendido: no seguro"}, "known-bad": {"not read: spillage failed", "no leído: falló el derrame"}, "not-asked-here": {"not asked by this scheme", "no lo pide este esquema"}, "over-range": {"above the meter's range", "sobre el rango del medidor"}, "rising": {"rising", "subiendo"},
		"facts-open": {"NOT KNOWN WHETHER: %s", "NO SE SABE SI: %s"}, "shares": {"shares its vent", "comparte conducto"}, "shares-with": {"shares its vent with %s", "comparte conducto con %s"},
		"v-pass": {"pass", "pasa"}, "v-fail": {"FAIL", "FALLA"}, "v-too-close": {"TOO CLOSE, counts as a fail", "DEMASIADO CERCA, cuenta como fallo"}, "v-not-evaluated": {"not evaluated", "no evaluado"}, "v-not-applicable": {"does not apply", "no aplica"},
		"source-": {"%s: not settled", "%s: sin resolver"}, "source-yes": {"%s: stopped", "%s: eliminado"}, "source-no": {"%s: STILL THERE", "%s: SIGUE"},
		"is-wrong": {"%s: NOT SO", "%s: NO"}, "is-so": {"%s: IT IS SO", "%s: SÍ"}, "not-seen": {"%s: not seen", "%s: no visto"}, "resolution": {"resolution %s Pa", "resolución %s Pa"}, "accuracy": {"%s Pa or %s %%", "%s Pa o %s %%"}, "accuracy-scheme": {"accuracy not entered: the scheme's figures", "exactitud no indicada: cifras del esquema"},
		"line": {"line %d,", "línea %d,"}, "doubt-": {"OPEN", "ABIERTA"}, "doubt-left": {"LEFT OPEN", "QUEDA ABIERTA"}, "doubt-stands": {"looked at, it stands", "revisado, se mantiene"}, "doubt-retake": {"taken again", "tomada de nuevo"}, "reopened": {"record reopened after its close", "registro reabierto tras su cierre"},
		"required": {"required", "requerido"}, "wanted": {"wanted only", "solo deseado"}, "edited-row": {"EDITED, not as shipped.", "EDITADA, no como se entrega."}, "checked-by": {"checked against the document by %s, %s (%s)", "cotejado con el documento por %s, %s (%s)"},
		"from-memory": {"from memory - not checked against the document", "de memoria - no cotejado con el documento"}, "no-source": {"no source given", "sin fuente"}, "at-least": {"not below %s %s", "no bajo %s %s"}, "at-most": {"not above %s %s", "no sobre %s %s"},
		"draft-point": {"%s Pa at %s %s", "%s Pa a %s %s"}, "co-over": {"CO over %s ppm", "CO sobre %s ppm"}, "co-band": {"CO over %s to %s ppm", "CO sobre %s a %s ppm"}, "outcomes": {"spillage %s, draft %s", "derrame %s, tiro %s"},
		"o-any": {"any", "cualquiera"}, "o-pass": {"pass", "pasa"}, "o-fail-worst-only": {"fails at worst case only", "falla solo en el peor caso"}, "o-fail-natural": {"fails at rest", "falla en reposo"}, "o-fail-anywhere": {"fails anywhere", "falla donde sea"},
		"from": {"from %s %s", "desde %s %s"}, "above": {"above %s %s", "sobre %s %s"}, "as-shipped": {"as shipped", "como se entrega"}, "edited": {"EDITED: not as shipped", "EDITADO: no como se entrega"},
		"edition": {"Edition", "Edición"}, "status": {"Status", "Estado"}, "table": {"Limit table", "Tabla de límites"}, "walked-under": {"Walked under", "Recorrido con"},
		"prior-absent": {"The earlier phase is record %s, closed as %s; it was not at hand for this report.", "La fase anterior es el registro %s, cerrado como %s; no estaba disponible."}, "earlier": {"Earlier phase", "Fase anterior"}, "closing-hash": {"Closing hash", "Hash de cierre"},
		"net-of": {"%s, net", "%s, neta"}, "not-there": {"not there", "no estaba"}, "there": {"there", "está"}, "gone-now": {"gone: did it share a vent?", "ya no está: ¿compartía conducto?"},
		"begun": {"Begun", "Empezado"}, "lines": {"Lines", "Líneas"}, "head": {"Hash of the last line", "Hash de la última línea"}, "program": {"Program", "Programa"}, "practice-house": {"Practice house", "Casa de práctica"}, "decided-as": {"Decided at the close", "Decidido al cierre"},
		"takes-over": {"tests from here on", "prueba desde aquí"}, "goes-on": {"goes on after a stop", "sigue tras una pausa"}, "enters": {"enters answers from line %d on", "anota desde la línea %d"}, "log-file": {"log, not kept", "registro, no guardado"},
		"sig-none": {"no signature", "sin firma"}, "sig-unchecked": {"SSH signature, not checked here", "firma SSH, no comprobada aquí"}, "signed-earlier": {"signed an earlier state", "firmó un estado anterior"}, "sign-accept": {"accepted", "aceptado"}, "sign-return": {"returned", "devuelto"},

		"left-out": {"[left out]", "[omitido]"}, "caution-redacted": {"Label, address, names, photos and free notes are left out of this copy.", "En esta copia se omiten etiqueta, dirección, nombres, fotos y notas."},
		"t-again": {"Worst case of %s, to set up again", "Peor caso de %s, para repetirlo"}, "c-done": {"Done", "Hecho"}, "c-set-what": {"What", "Qué"}, "c-set-to": {"Set it", "Póngalo"},
		"windows-doors": {"windows and outside doors", "ventanas y puertas exteriores"}, "caz-door": {"CAZ door of %s", "puerta de la zona %s"}, "stand-in-fan": {"fan standing in for the fireplace, %s %s", "ventilador que sustituye la chimenea, %s %s"},
		"set-on": {"ON", "ENCENDIDO"}, "set-off": {"OFF", "APAGADO"}, "set-shut": {"SHUT", "CERRADO"}, "set-open": {"OPEN", "ABIERTO"}, "set-not-run": {"could not be run", "no se pudo usar"},
		"c-rests": {"Lines", "Líneas"}, "t-rests": {"What the decision rests on", "En qué se basa la decisión"}, "t-all-findings": {"All findings", "Todos los resultados"}, "c-measured-at": {"Seen at", "Visto en"}, "c-figure-source": {"Row, source and evidence", "Fila, fuente y evidencia"},
		"c-lowest": {"Lowest", "Mínima"}, "c-highest": {"Highest", "Máxima"}, "c-state": {"State of the house", "Estado de la casa"}, "c-outdoors": {"Outdoors", "Exterior"}, "c-draft-pa": {"Draft Pa", "Tiro Pa"}, "at-worst": {"worst case", "peor caso"}, "at-rest": {"natural", "natural"},
		"c-ppm-as-measured": {"CO as measured, ppm", "CO medido, ppm"}, "c-ppm-air-free": {"CO air-free, ppm", "CO sin aire, ppm"}, "c-limit-ppm": {"Its limit, ppm", "Su límite, ppm"}, "leads": {"leads to %s", "lleva a %s"},
		"draft-chart":          {"Draft against outdoor temperature, Pa, %s", "Tiro según la temperatura exterior, Pa, %s"},
		"draft-chart-desc":     {"The thick line is the weakest draft that the rule allows at each outdoor temperature; below it is stronger. Filled: at worst case; open: natural conditions. The upright bar is the give-or-take; a short level bar is the figure of the maker, where that is the limit.", "La línea gruesa es el tiro más débil que la regla permite a cada temperatura; más abajo es más fuerte. Lleno: peor caso; vacío: condiciones naturales. La barra vertical es el margen; una barra corta horizontal es la cifra del fabricante, donde ese es el límite."},
		"co-chart-as-measured": {"CO as measured, ppm, undiluted", "CO medido, ppm, sin diluir"}, "co-chart-air-free": {"CO air-free, ppm", "CO sin aire, ppm"},
		"co-chart-desc": {"The highest value of each appliance. Dashed: where the action bands change. A thick upright mark: the limit of that appliance.", "El valor más alto de cada aparato. Rayado: cambio de banda. Marca vertical gruesa: límite de ese aparato."},
		"weaker":        {"too weak", "muy débil"}, "stronger": {"strong enough", "suficiente"}, "limit-word": {"limit", "límite"},
		"s-photos": {"Photos", "Fotos"}, "photo": {"Photo %d: %s, %s", "Foto %d: %s, %s"}, "photo-alt": {"Photo taken at: %s", "Foto tomada en: %s"}, "photo-absent": {"MISSING: the photo with SHA-256 %s does not stand beside the record any more.", "FALTA: la foto con SHA-256 %s ya no está junto al registro."}, "photo-altered": {"CHANGED: what stands beside the record is not the photo that was kept, whose SHA-256 is %s.", "ALTERADA: lo que está junto al registro no es la foto guardada, cuyo SHA-256 es %s."},
		"photo-elsewhere": {"Kept beside the record, not shown here. SHA-256 %s.", "Guardada junto al registro, no se muestra aquí. SHA-256 %s."}, "caution-photos": {"Photos missing or changed since they were kept: %s (see the photos).", "Fotos que faltan o fueron alteradas desde que se guardaron: %s (ver las fotos)."},
		"c-change": {"Change", "Cambio"}, "c-limit-now": {"Limit", "Límite"}, "phases-net Pa": {"Net pressure at worst case, Pa", "Presión neta en el peor caso, Pa"}, "phases-spillage s": {"Spillage at worst case, s", "Derrame en el peor caso, s"},
		"phases-draft Pa": {"Draft at worst case, Pa", "Tiro en el peor caso, Pa"}, "phases-CO ppm": {"CO as measured, ppm", "CO medido, ppm"},
		"phases-desc": {"From the earliest phase to the latest; the arrow points to the latest. A thick upright mark: the limit.", "De la fase más antigua a la última; la flecha apunta a la última. Marca vertical gruesa: el límite."},
		"figures-of":  {"The same figures as a table", "Las mismas cifras en una tabla"}, "contents": {"Contents", "Contenido"},
		"trace-desc": {"One step for each reading, with the spread of its samples; the dot is the reading that the net rests on, the grey band its give-or-take.", "Un escalón por lectura, con la dispersión de sus muestras; el punto es la lectura de la neta y la banda gris su margen."}, "photo-unreadable": {"This photo cannot be read.", "Esta foto no se puede leer."},
		"to-decision":    {"Go to the decision", "Ir a la decisión"},
		"basis-air-free": {"air-free %s ppm", "sin aire %s ppm"}, "basis-as-measured": {"as measured %s ppm", "medido %s ppm"},
		"s-sealing": {"After sealing: a plan, not a test result", "Tras el sellado: un plan, no un resultado"},
		"n-sealing": {"What tightening the house will do to each zone with the same fans on, worked out from the net measured at worst case. Low end of the band past the limit: too close, counts as past. Test the zone again every day, and at the end.",
			"Lo que hará a cada zona sellar la casa con los mismos ventiladores, calculado con la neta medida en el peor caso. Si el extremo bajo de la banda pasa el límite: demasiado cerca, cuenta como pasado. Pruebe la zona otra vez cada día y al final."},
		"seal-far": {"How far one may seal", "Hasta dónde se puede sellar"}, "seal-plan": {"Planned", "Previsto"}, "seal-by": {"Worked out by", "Calculado con"}, "seal-no-plan": {"no target entered", "sin meta indicada"},
		"seal-rule":      {"single-zone power law; exponent %s (common practice), band %s to %s; CFM50 give-or-take %s %% (own rule)", "ley de potencia de una zona; exponente %s (práctica común), banda %s a %s; margen de CFM50 %s %% (regla propia)"},
		"seal-down-to":   {"down to %s; that takes %s away (%s %%)", "hasta %s; eso quita %s (%s %%)"},
		"seal-not-yet":   {"NOT YET: first settle what page 1 says. By the pressure alone: %s", "AÚN NO: primero resuelva lo de la página 1. Solo por la presión: %s"},
		"seal-none":      {"no further: the band already reaches the limit. Arrange make-up air first.", "nada más: la banda ya alcanza el límite. Acuerde antes aire de reposición."},
		"seal-not-worst": {"not known: the worst case of %s is not complete, or a reading is in doubt", "no se sabe: el peor caso de %s no está completo, o hay una lectura en duda"},
		"seal-not-known": {"not known: not every zone has a net and a limit in Pa", "no se sabe: no toda zona tiene neta y límite en Pa"},
		"seal-no-net":    {"no net at worst case yet", "aún sin neta en el peor caso"}, "seal-refused": {"these figures give no answer", "estas cifras no dan respuesta"},
		"seal-today": {"today", "hoy"}, "seal-planned": {"after sealing as planned", "tras el sellado previsto"}, "seal-stop": {"stop here: the band reaches the limit", "pare aquí: la banda alcanza el límite"}, "seal-floor": {"the figure itself reaches the limit", "la cifra misma alcanza el límite"},
		"seal-stop-short": {"stop", "pare"}, "seal-floor-short": {"limit at", "límite en"}, "seal-pass": {"inside", "dentro"}, "seal-too-close": {"TOO CLOSE, counts as past", "DEMASIADO CERCA, cuenta como pasado"}, "seal-fail": {"PAST THE LIMIT", "PASA EL LÍMITE"}, "seal-not-evaluated": {"not evaluated", "no evaluado"},
		"c-point": {"When", "Cuándo"}, "c-flow": {"CFM50", "CFM50"}, "c-band": {"Band Pa", "Banda Pa"}, "from-to": {"%s to %s", "%s a %s"}, "flow50-si": {"L/s at 50 Pa", "L/s a 50 Pa"},
		"seal-chart": {"%s at worst case, Pa, against the tightness of the house", "%s en el peor caso, Pa, según la hermeticidad de la casa"},
		"seal-chart-desc": {"Further left the house is tighter, further down the zone is lower. Thick line: the net as worked out; grey: its band. Dashed: the limit. Filled dot: today; open box: as planned. Dotted upright lines: where the band, and where the figure itself, reach the limit.",
			"Más a la izquierda la casa es más hermética, más abajo la zona está más baja. Línea gruesa: la neta calculada; gris: su banda. Rayado: el límite. Punto lleno: hoy; cuadro vacío: lo previsto. Verticales de puntos: donde la banda, y donde la cifra misma, alcanzan el límite."},
		"seal-key":                {"T today   A after sealing as planned   * net   . its band   - limit   F where the net reaches it", "T hoy   A tras el sellado previsto   * neta   . su banda   - límite   F donde la neta lo alcanza"},
		"weak-caz-door-shut":      {"The CAZ door was shut at worst case: zone and house are two spaces, and the zone changes more or less than the house. Seal the zone's own shell last.", "La puerta de la zona estaba cerrada en el peor caso: zona y casa son dos espacios, y la zona cambia más o menos que la casa. Selle al final la envolvente de la zona."},
		"weak-return-leak":        {"The air handler lowers the zone (return leak, or more supply than return elsewhere): seal return leaks in the zone first and measure again.", "La manejadora baja la zona (fuga de retorno, o más suministro que retorno en otra parte): selle antes las fugas de retorno de la zona y mida de nuevo."},
		"weak-strong-stack":       {"The baseline is large beside the net (stack or wind): sealing shifts it too. Measure again in milder weather.", "La base es grande frente a la neta (tiro de la casa o viento): el sellado también la mueve. Mida de nuevo con tiempo más suave."},
		"weak-flows-not-measured": {"The exhaust was not measured at the zone: a plate is not a flow. The net at worst case is the better start.", "La extracción no se midió en la zona: una placa no es un caudal. La neta en el peor caso es mejor punto de partida."},
		"weak-far-from-measured":  {"More than half of the leakage is to go: far outside what one point can tell. Measure half-way.", "Se quitará más de la mitad de las fugas: muy lejos de lo que dice un solo punto. Mida a medio camino."},
		"weak-beyond-50-pa":       {"Pressures beyond 50 Pa: outside the range in which houses are measured.", "Presiones de más de 50 Pa: fuera del rango en que se miden casas."},
		"weak-not-worst-case":     {"Worst case was not held complete, or a reading is in doubt: the true net may be lower, so no pass is given. Finish the test.", "El peor caso no se mantuvo completo, o hay una lectura en duda: la neta verdadera puede ser más baja; no se da por dentro. Termine la prueba."},
		"weak-not-lowered":        {"The fans do not lower the zone: there is nothing to scale. Look at the set-up and the hoses again.", "Los ventiladores no bajan la zona: no hay nada que escalar. Revise la disposición y las mangueras."},

		"s-air": {"Combustion air", "Aire de combustión"},
		"n-air": {"Indoor volume that the burners of a room need, by the standard method of the gas codes; a record knows no infiltration rate. Only the volume of the room itself counts here. Local code comes first.",
			"Volumen interior que necesitan los quemadores de un cuarto, por el método estándar de los códigos de gas; un registro no conoce la infiltración. Aquí solo cuenta el volumen del cuarto. El código local va primero."},
		"n-openings": {"One of the lines brings the air in: net free area of each opening. Beside the air indoors: the size when the volume that is there counts too. Louvre sizes take 75 % free for metal, 25 % for wood; the maker's figure comes first. One opening alone is never below the sum of the vent connectors. Rooms count together only through openings of at least 100 in2 each, one within 12 in of the top and one within 12 in of the bottom, no side under 3 in.",
			"Una de las líneas trae el aire: área libre neta de cada abertura. Junto al aire interior: el tamaño cuando también cuenta el volumen que hay. Las rejillas toman 75 % libre si son de metal, 25 % de madera; la cifra del fabricante va primero. Una sola abertura nunca es menor que la suma de los conectores. Los cuartos cuentan juntos solo por aberturas de al menos 100 in2 cada una, una a no más de 12 in del techo y otra a no más de 12 in del piso, ningún lado menor de 3 in."},
		"c-air-needed": {"Volume needed", "Volumen necesario"}, "c-there": {"There is", "Hay"}, "c-ratio": {"Ratio", "Razón"}, "air-burners": {"%s, of it fan-assisted %s", "%s; con ventilador %s"}, "air-no-input": {"input not known: %s", "potencia desconocida: %s"},
		"air-enough": {"enough by itself", "basta por sí solo"}, "air-short": {"NOT ENOUGH: openings are needed", "NO BASTA: hacen falta aberturas"}, "air-source": {"%s (%s)", "%s (%s)"},
		"air-left-out": {"Left out, because these methods are not about them (own air from outdoors, solid fuel, outside the shell): %s", "Omitidos, porque estos métodos no son para ellos (aire propio del exterior, combustible sólido, fuera de la envolvente): %s"},
		"air-oil":      {"%s: a burner there burns oil; these methods are those of the gas codes.", "%s: allí un quemador es de aceite; estos métodos son de los códigos de gas."},
		"t-openings":   {"Openings for %s", "Aberturas para %s"}, "c-way": {"Way", "Manera"}, "c-count": {"How many", "Núm."}, "c-each": {"Each", "Cada una"}, "c-beside": {"Each, beside the air indoors", "Cada una, con el aire interior"}, "c-metal": {"Metal louvre", "Rejilla de metal"}, "c-wood": {"Wood louvre", "Rejilla de madera"}, "c-way-source": {"Source and evidence", "Fuente y evidencia"},
		"air-indoor-same-story": {"to rooms on the same story, one high, one low", "a cuartos del mismo piso, una alta y una baja"}, "air-indoor-other-story": {"to rooms on another story, area in all", "a cuartos de otro piso, área en total"},
		"air-outdoor-two-direct": {"from outdoors, high and low, straight or by vertical ducts", "del exterior, alta y baja, directas o por conductos verticales"}, "air-outdoor-two-horizontal": {"from outdoors, high and low, by horizontal ducts", "del exterior, alta y baja, por conductos horizontales"},
		"air-outdoor-one": {"from outdoors, one, high", "del exterior, una, alta"},

		"weak-house-file":     {"The pull of the fans was not measured: it is that of the house file. The net at worst case is the better start.", "Lo que tiran los ventiladores no se midió: es el del archivo de la casa. La neta en el peor caso es mejor punto de partida."},
		"weak-house-file-off": {"The house file gives another net for today than was measured: scaled to the measured one, and the lower of it and the single-zone rule is taken. Look at the file again.", "El archivo de la casa da para hoy otra neta que la medida: se escala a la medida, y se toma la más baja de ella y de la regla de una zona. Revise el archivo."},
	}
})
