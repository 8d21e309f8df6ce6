"""The routes of the day and of a batch."""

from django.urls import URLPattern, path

from chalaza.pages import air_cells, batch, batches, chart, done, finish, home, paper, why

urlpatterns: list[URLPattern] = [
    path("", home.home, name="home"),
    path("done/", done.done, name="done"),
    path("paper/", paper.paper, name="paper"),
    path("batches/", batches.batches, name="batches"),
    path("batches/<uid:uid>/", batch.batch, name="batch"),
    path("batches/<uid:uid>/line/", home.line, name="line"),
    path("batches/<uid:uid>/chart/<str:name>/", chart.chart, name="chart"),
    path("batches/<uid:uid>/why/<str:figure>/", why.why, name="why"),
    path("batches/<uid:uid>/finish/", finish.finish, name="finish"),
    path("batches/<uid:uid>/air-cells/", air_cells.air_cells, name="air_cells"),
    path("batches/<uid:uid>/air-cells.pdf", air_cells.air_cells_pdf, name="air_cells_pdf"),
]
