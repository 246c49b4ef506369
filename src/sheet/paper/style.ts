/** How the sheet and the card look: black on white, one quiet face for words, one for figures. Nothing is fetched. */

const WORDS =
  '"Iowan Old Style","Palatino Linotype",Palatino,"TeX Gyre Pagella","DejaVu Serif",Georgia,serif';
const FIGURES = 'system-ui,"Segoe UI",Roboto,"Helvetica Neue","DejaVu Sans",Arial,sans-serif';

/** A text inside a CSS string: all but plain letters and figures as numbers. */
export function cssString(text: string): string {
  return `"${text.replace(/[^A-Za-z0-9 .,_-]/gu, (sign) => `\\${(sign.codePointAt(0) ?? 32).toString(16)} `)}"`;
}

/** `running` stands in the margin of each printed page, cut to a readable length. */
export function paperStyle(running: string): string {
  return `
*{box-sizing:border-box}
html{color:#000;background:#fff;font:10pt/1.35 ${WORDS};-webkit-print-color-adjust:exact;print-color-adjust:exact}
body{margin:0}
#sheet{max-width:190mm;margin:0 auto;padding:6mm 0}
#sheet h1{font-size:26pt;font-weight:600;line-height:1.1;margin:2mm 0 1mm;overflow-wrap:anywhere}
#sheet h2{font-size:15pt;font-weight:600;margin:6mm 0 2mm;overflow-wrap:anywhere;break-after:avoid}
#sheet h2 small{font-size:10pt;font-weight:400}
#sheet h3{font-size:11.5pt;font-weight:600;margin:5mm 0 1.5mm;break-after:avoid}
#sheet h4{font-size:10pt;font-weight:400;margin:0;break-after:avoid}
#sheet p{margin:0 0 2mm}
#sheet .lead,#sheet .key,#sheet .about,.note,.running{font-size:8.5pt}
.leaf{width:100%;border-collapse:collapse;table-layout:fixed}
.leaf>*>tr>td{padding:0;vertical-align:top}
.leaf tr{break-inside:auto}
.leaf>thead{display:table-header-group}
.leaf>tfoot{display:table-footer-group}
.leaf>tfoot>tr,.leaf>thead>tr{break-inside:avoid}
.running{display:flex;justify-content:space-between;gap:6mm;border-bottom:.5pt solid #000;padding-bottom:1mm;margin-bottom:1.5mm;overflow-wrap:anywhere}
.running>*{min-width:0}
.cautions{margin-top:3mm;border-top:.5pt solid #000;padding-top:1mm;font-size:7.6pt;line-height:1.3}
table.list{border-collapse:collapse;width:100%;font-family:${FIGURES};font-size:8.5pt}
.list th{text-align:left;font-weight:400;font-style:italic;font-family:${WORDS};border-bottom:.5pt solid #000}
.list th,.list td{padding:.7mm 3mm .7mm 0;vertical-align:top;overflow-wrap:anywhere;min-width:21mm}
.list th{overflow-wrap:normal}
.list .n{text-align:right;padding:.7mm 0 .7mm 3mm;font-variant-numeric:tabular-nums;white-space:nowrap;overflow-wrap:normal;min-width:0}
.list th.n{white-space:normal}
.list .n+:not(.n){padding-left:4mm}
.list tbody tr{border-bottom:.25pt solid #999;break-inside:avoid}
.sum{margin-top:1.5mm}
.short{border:1pt solid #000;padding:2mm 3mm 0;margin:2mm 0}
.notes{margin:0;padding-left:5mm}
.notes li,.short p,.key{overflow-wrap:anywhere}
.how{display:flex;gap:6mm;border:.5pt solid #000;padding:3mm;break-inside:avoid;font-size:8.8pt}
.how ol{margin:0;padding-left:5mm;flex:1;min-width:0}
.how li{margin-bottom:.7mm;overflow-wrap:anywhere}
svg.method{flex:none}
svg.method text,svg.stick text{font-family:${FIGURES}}
svg.method text{font-size:2.6px}
svg.method .e{font-style:italic}
.setting{break-inside:auto;margin:0 0 2.4mm;border-top:.25pt solid #999;padding-top:1mm}
#sheet .figure{font:600 14pt/1.1 ${FIGURES};font-variant-numeric:tabular-nums}
#sheet .clamp{font:700 8.5pt ${FIGURES};border:1pt solid #000;padding:0 1mm;white-space:nowrap}
.box{display:inline-block;width:3.4mm;height:3.4mm;border:.7pt solid #000;vertical-align:-.5mm}
#sheet .visits{list-style:none;margin:1mm 0 0;padding:0;columns:3;column-gap:5mm;font:8.6pt/1.45 ${FIGURES}}
#sheet .visits li{break-inside:avoid;padding-left:5mm;text-indent:-5mm;overflow-wrap:anywhere}
#sheet .visits span{white-space:nowrap}
#sheet .visits .box{width:3mm;height:3mm;text-indent:0;margin-right:.6mm}
.row{display:flex;gap:3mm;break-inside:avoid;margin-bottom:1.6mm;align-items:flex-start}
.row .name{width:36mm;flex:none;font:8.6pt/1.25 ${FIGURES};overflow-wrap:anywhere}
.row>div:last-child{min-width:0}
.row .note{font-family:${FIGURES};font-size:7.4pt;overflow-wrap:anywhere}
svg{display:block}
svg.defs{position:absolute}
svg.stick{overflow:visible}
.w{fill:url(#p-waste)}
.o{fill:none;stroke:#000;stroke-width:.25}
.r path{fill:#fff;stroke:#000;stroke-width:.35}
.t{font-size:2.9px;font-weight:700;text-anchor:middle}
.u{font-size:2.3px;font-weight:700;text-anchor:middle;dominant-baseline:central}
.s{font-size:2.3px;text-anchor:middle}
.p{fill:#fff}
.offcut>rect:first-child{fill:#fff;stroke:#000;stroke-width:.35;stroke-dasharray:1.4 .8}
.waste>rect:first-child{fill:none}
.flaw>rect:first-child{fill:url(#p-flaw);stroke:#000;stroke-width:.35}
.cut>rect:first-child{fill:#fff;stroke:#000;stroke-width:.2}
.lost>rect:first-child{fill:url(#p-flaw);stroke:#000;stroke-width:.2}
@page{margin:11mm 10mm 13mm;
@bottom-left{content:${cssString(running)};font:7.5pt ${FIGURES}}
@bottom-right{content:"page " counter(page) " of " counter(pages);font:7.5pt ${FIGURES}}}
@media print{
#card{display:none}
#sheet{display:block!important;max-width:none;padding:0}
.leaf+.leaf{break-before:page}
}
@media screen{
.leaf{margin-bottom:12mm}
.carded #sheet{display:none}
html.carded.paper #sheet{display:block}
}
`;
}
