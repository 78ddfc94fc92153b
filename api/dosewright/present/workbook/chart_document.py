"""The chart of a sheet as an OpenDocument chart, that reads the sheet's cells."""

from xml.sax.saxutils import escape

from dosewright.present.workbook.grid import Sheet, column_name
from dosewright.present.workbook.namespaces import namespaces

__all__ = ["MEDIA_TYPE", "chart_document"]

MEDIA_TYPE = "application/vnd.oasis.opendocument.chart"

_STYLES = """
<number:number-style style:name="Bare"><number:number number:min-integer-digits="1"/></number:number-style>
<style:style style:name="plot" style:family="chart"><style:chart-properties chart:symbol-type="automatic"
 chart:include-hidden-cells="false" chart:treat-empty-cells="leave-gap"/></style:style>
<style:style style:name="axis" style:family="chart" style:data-style-name="Bare"><style:chart-properties
 chart:display-label="true" chart:visible="true" chart:link-data-style-to-source="false"/>
<style:text-properties fo:font-size="9pt"/></style:style>
<style:style style:name="grid" style:family="chart"><style:graphic-properties draw:stroke="solid"
 svg:stroke-color="#d0d0d0"/></style:style>
<style:style style:name="line" style:family="chart"><style:chart-properties chart:symbol-type="named-symbol"
 chart:symbol-name="circle" chart:symbol-width="2mm" chart:symbol-height="2mm"/>
<style:graphic-properties draw:stroke="solid" svg:stroke-width="0.6mm" svg:stroke-color="#1f4e79"
 draw:fill-color="#1f4e79"/></style:style>
<style:style style:name="bare" style:family="chart"><style:graphic-properties draw:stroke="none"
 draw:fill="none"/></style:style>
<style:style style:name="area" style:family="chart"><style:graphic-properties draw:stroke="none"
 draw:fill="solid" draw:fill-color="#ffffff"/></style:style>
<style:style style:name="title" style:family="chart"><style:text-properties fo:font-size="12pt"
 fo:font-weight="bold"/></style:style>
<style:style style:name="axisTitle" style:family="chart"><style:text-properties fo:font-size="9pt"/></style:style>
<style:style style:name="upright" style:family="chart"><style:chart-properties style:rotation-angle="90"/>
<style:text-properties fo:font-size="9pt"/></style:style>
"""


def chart_document(sheet: Sheet) -> str:
    """Return the chart's document."""
    chart = sheet.chart
    if chart is None:
        raise ValueError(f"sheet {sheet.name} has no chart")

    def cells(column: int, first: int, last: int) -> str:
        letters = column_name(column)
        return f"{sheet.name}.${letters}${first + 1}:{sheet.name}.${letters}${last + 1}"

    x_cells = cells(chart.x_column, chart.first, chart.last)
    y_cells = cells(chart.y_column, chart.first, chart.last)
    label = f"{sheet.name}.${column_name(chart.y_column)}${chart.first}"
    needed = ("office", "chart", "style", "fo", "draw", "svg", "text", "table", "number")

    def axis(dimension: str, title: str, style: str) -> str:
        return (
            f'<chart:axis chart:dimension="{dimension}" chart:name="primary-{dimension}" chart:style-name="axis">'
            f'<chart:title chart:style-name="{style}"><text:p>{escape(title)}</text:p></chart:title>'
            '<chart:grid chart:class="major" chart:style-name="grid"/></chart:axis>'
        )

    return (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {namespaces(*needed)} '
        'xmlns:xlink="http://www.w3.org/1999/xlink" office:version="1.3">'
        f"<office:automatic-styles>{_STYLES}</office:automatic-styles><office:body><office:chart>"
        '<chart:chart xlink:href=".." xlink:type="simple" svg:width="148mm" svg:height="90mm" '
        'chart:class="chart:scatter" chart:style-name="area">'
        f'<chart:title chart:style-name="title"><text:p>{escape(chart.title)}</text:p></chart:title>'
        '<chart:legend chart:legend-position="bottom" chart:style-name="bare"/>'
        '<chart:plot-area chart:style-name="plot" '
        f'table:cell-range-address="{x_cells} {y_cells}" chart:data-source-has-labels="column">'
        f"{axis('x', chart.x_title, 'axisTitle')}{axis('y', chart.y_title, 'upright')}"
        f'<chart:series chart:style-name="line" chart:class="chart:scatter" '
        f'chart:values-cell-range-address="{y_cells}" chart:label-cell-address="{label}">'
        f'<chart:domain table:cell-range-address="{x_cells}"/>'
        f'<chart:data-point chart:repeated="{chart.last - chart.first + 1}"/></chart:series>'
        '<chart:wall chart:style-name="area"/></chart:plot-area></chart:chart></office:chart></office:body>'
        "</office:document-content>"
    )
