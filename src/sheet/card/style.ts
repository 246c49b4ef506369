/** How the card looks: figures that are read at two metres, targets that a glove hits. Black on white. */

export const CARD_STYLE = `
@media screen{
#card{font-family:system-ui,"Segoe UI",Roboto,"Helvetica Neue","DejaVu Sans",Arial,sans-serif;font-size:20px;line-height:1.3;padding:0 16px 24px;max-width:1280px;margin:0 auto}
#card header{display:flex;align-items:center;gap:20px;padding:10px 0;border-bottom:2px solid #000;flex-wrap:wrap}
#card h1{font-size:22px;margin:0;flex:1;min-width:160px}
#card p{margin:6px 0;overflow-wrap:anywhere}
#card progress{width:160px;height:22px;vertical-align:middle;accent-color:#000}
#card button{font:inherit;color:#000;background:#fff;border:2px solid #000;border-radius:0;min-height:64px;padding:8px 20px;cursor:pointer;overflow-wrap:anywhere}
#card button:disabled{cursor:default}
#card .bar button:disabled,#card .choices button:disabled{border-style:dashed;color:#444}
#card button:focus-visible,#card summary:focus-visible,#card pre:focus-visible{outline:6px double #000;outline-offset:3px}
#card button[aria-pressed=true]:not(.visit){text-decoration:underline;text-decoration-thickness:3px}
#card .quiet{font-size:18px}
#card .figure{font-size:clamp(60px,14vw,180px);line-height:1.02;font-weight:700;margin:0;padding:2px 0 8px;position:sticky;top:0;background:#fff;font-variant-numeric:tabular-nums;letter-spacing:-.02em}
#card .figure.two{font-size:clamp(40px,8.4vw,110px)}
#card .figure span{white-space:nowrap}
#card .figure small{font-size:.4em;font-weight:600;letter-spacing:0;white-space:nowrap}
#card .about{font-size:22px}
#card .clamp{display:inline-block;border:5px solid #000;padding:4px 14px;font-weight:700;font-size:30px}
#card details{margin:8px 0;font-size:20px}
#card summary{padding:12px 0;cursor:pointer;min-height:48px}
#card ol{margin:0 0 8px;padding-left:28px}
#card ul{list-style:none;margin:0;padding:0}
#card .steps li{margin:0 0 8px}
#card .visit.here{scroll-margin:240px 0 120px}
#card .visit{display:flex;width:100%;align-items:center;gap:20px;text-align:left;font-size:30px;min-height:84px}
#card .visit .mark{flex:none;width:48px;height:48px;border:3px solid currentColor;font-size:40px;line-height:44px;text-align:center}
#card .visit .what{flex:1;min-width:0}
#card .visit .what b{font-size:40px}
#card .visit em{display:block;font-size:20px;font-style:normal}
#card .visit .rails{flex:1;min-width:0;display:flex;flex-wrap:wrap;gap:4px 20px;font-size:36px;font-weight:700}
#card .visit .count{flex:none;font-size:24px}
#card .visit.here{background:#000;color:#fff;border-width:6px}
#card .visit.done{border-style:dotted}
#card .visit.done .what b{font-weight:400}
#card .bar{display:flex;flex-wrap:wrap;gap:12px;position:sticky;bottom:0;background:#fff;border-top:2px solid #000;padding:12px 0;margin-top:12px}
#card .bar button:last-child{margin-left:auto;font-weight:700}
#card .go{background:#000;color:#fff;font-weight:700}
#card .at{font-size:18px;border-top:1px solid #000;padding-top:8px}
#card .lost,#card .warn{border:4px solid #000;padding:8px 16px;margin:10px 0}
#card .big{font-size:26px}
#card pre{font-size:18px;white-space:pre-wrap;overflow-wrap:anywhere;border:1px solid #000;padding:8px}
#card dialog{border:6px solid #000;padding:20px;max-width:900px;width:92vw;max-height:88vh;overflow:auto}
#card dialog::backdrop{background:rgba(255,255,255,.8)}
#card dialog h2{margin:0 0 8px}
#card .choices{display:flex;flex-wrap:wrap;gap:10px;margin-bottom:16px}
#card .choices b{font-size:30px}
#card .sr{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
@media (max-width:700px){#card .visit{flex-wrap:wrap;gap:8px 16px}#card .visit .rails{flex-basis:100%}}
}
`;
