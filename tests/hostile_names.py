"""Names that try to be something else. Each is what a route file might carry."""

HOSTILE = {
    "script": "</script><script>document.title='owned'</script>",
    "image": '"><img src=x onerror="document.title=\'owned\'">',
    "attribute": "' onmouseover='document.title=1",
    "template": "{{ 7 * 7 }}{% raw %}${7*7}",
    "comment": "--><!-- ]]> <![CDATA[",
    "entity": "&lt;b&gt; &amp; &#x3c;",
    "formula": "=cmd|' /C calc'!A0",
    "formula after space": " \t=1+1",
    "plus": "+1+1",
    "minus": "-2+3",
    "at": "@SUM(A1)",
    "wide equals": "＝1+1",
    "escape": "\x1b[2J\x1b]0;owned\x07bell \x9b31m",
    "override": "left \u202egnp.exe\u2066 right",
    "lines": "one\ntwo\r\nthree\u2028four",
    "markup": "[bold red]loud[/] [link=x]y",
    "mathtext": r"$\frac{1}{2}$ \alpha $unclosed",
    "surrogate": "lone \udc80 half",
    "empty": "",
    "long": "abc " * 400,
}
