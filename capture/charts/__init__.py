"""Control charts of what was measured over builds. Pure: builds in, charts out.

``gather`` takes the sizes that count out of a build, ``subgroup`` says which of them belong
together, ``signal`` knows the rules by which a point stands out, ``chart`` puts a chart together
and ``answer`` says it as plain data. The arithmetic of limits is ``capture.study.charts``.
"""
