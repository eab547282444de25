import time, math, sys
import numpy as np, shapely
from shapely.geometry import box, Polygon, LineString
from shapely import affinity
from choreo.place.fit import fit_of
from choreo.place.task import Task
from choreo.place.search import Search
from choreo.place.directions import allowed_headings
from choreo.place.rigid import own_frame
from choreo.place.field import region_of
def go(name, foot, site, **k):
    t0=time.perf_counter()
    A=own_frame(foot); B=own_frame(site)
    f=A.inverse().geometry(foot); s=B.inverse().geometry(site)
    fit=fit_of(f,s)
    t1=time.perf_counter()
    task=Task(fit, allowed_headings((), A.angle_rad-B.angle_rad), **k)
    S=Search(task, fit.margin_m); o=S.run()
    t2=time.perf_counter()
    b=o.found[0] if o.found else None
    print(f"{name}: prep {t1-t0:.2f} search {t2-t1:.2f} boxes {o.boxes} looks {S.looks/1e6:.1f}M best {b and b.margin_m} bound {o.bound_m:.3f} found {len(o.found)} box {o.box_m:.3f} {math.degrees(o.box_rad):.4f} open {o.open_m} early {o.ended_early} pts {len(fit.points_m)} {len(fit.corners_m)}", [round(x.margin_m,2) for x in o.found])
if __name__=='__main__':
    strip=shapely.segmentize(box(-20,-30,1000,30),45)
    foot=LineString([(0,0),(600,0)]).buffer(6)
    go('strip', foot, strip)
    go('rect', box(0,0,600,12), strip)
    go('too long', box(0,0,1100,12), strip)
    L=Polygon([(0,0),(300,0),(300,120),(120,120),(120,300),(0,300)]).difference(box(40,40,60,70))
    f2=LineString([(0,0),(150,0)]).buffer(5).union(LineString([(120,-20),(120,15)]).buffer(2))
    go('L', f2, L)
    f3=LineString([(0,0),(240,0)]).buffer(12).union(LineString([(120,-30),(120,15)]).buffer(2))
    go('L2', f3, L)
    go('disc', shapely.Point(0,0).buffer(10), strip)
    pad=shapely.Point(0,0).buffer(150, quad_segs=12)
    go('pad', f2, pad); go('padrect', box(0,0,100,8), pad)
    go('small', box(0,0,10,5), strip)
