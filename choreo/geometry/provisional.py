from dataclasses import dataclass
import numpy as np
from choreo.geometry.bodies import body_corners, point_ahead_m
@dataclass(frozen=True)
class MeetingPoint:
    station_a_m: float
    station_b_m: float
@dataclass(frozen=True)
class MeetingTrack:
    stations_b_m: object
    stations_a_m: object
    slope: float
    linear: bool
    def at(self, s):
        return float(np.interp(s, self.stations_b_m, self.stations_a_m)) if not self.linear else float(self.stations_a_m[0]+self.slope*(s-self.stations_b_m[0])), self.slope
@dataclass(frozen=True)
class ConflictZone:
    entry_a_m: float; exit_a_m: float; entry_b_m: float; exit_b_m: float
def clipmin(poly, lo, hi, ax):  # poly (k,2): min of coordinate `ax` where other in [lo,hi]
    o=1-ax; best=np.inf
    k=len(poly)
    for i in range(k):
        p,q=poly[i],poly[(i+1)%k]
        for t in (0.,1.):
            r=p+t*(q-p)
            if lo-1e-12<=r[o]<=hi+1e-12: best=min(best,r[ax])
        d=q[o]-p[o]
        if abs(d)>1e-15:
            for e in (lo,hi):
                t=(e-p[o])/d
                if 0<=t<=1: best=min(best,(p+t*(q-p))[ax])
    return best
def frame(pa,sa,pts):
    P=pa.pose(np.array([sa])); c,s=np.cos(P.heading_rad[0]),np.sin(P.heading_rad[0])
    d=pts-np.array([P.x_m[0],P.y_m[0]])
    return np.stack([d[:,0]*c+d[:,1]*s,-d[:,0]*s+d[:,1]*c],1)
def touch(pa,A,pb,B,sb,point,s0):
    Pb=pb.pose(np.array([sb])); corners=body_corners(B.corners_m,Pb)[0]
    ahead=point_ahead_m(B,point); pt=np.array([[Pb.x_m[0]+ahead*np.cos(Pb.heading_rad[0]),Pb.y_m[0]+ahead*np.sin(Pb.heading_rad[0])]])
    sa=s0
    for _ in range(60):
        poly=frame(pa,sa,corners); m=clipmin(poly,-A.width_m/2,A.width_m/2,0)
        valid=np.isfinite(m)
        if not valid: m=poly[:,0].min()
        f=m-A.front_m
        sa+=f
        if abs(f)<1e-12: break
    return sa, frame(pa,sa,pt)[0,1], valid
def find_contact(pa,A,pb,B,*,face,impact_m,point,range_a_m,range_b_m):
    lo,hi=range_b_m
    grid=np.linspace(lo,hi,max(2,int((hi-lo)/0.5)+1)) if hi>lo else np.array([lo])
    rows=[]
    for sb in grid:
        P=pb.pose(np.array([sb])); s0=pa.nearest(P.x_m[0],P.y_m[0])
        sa,y,v=touch(pa,A,pb,B,sb,point,s0-A.front_m); rows.append((sa,y-impact_m,v))
    sa=np.array([r[0] for r in rows]); e=np.array([r[1] for r in rows]); v=np.array([r[2] for r in rows])
    out=[]
    near=(np.abs(e)<5e-4)&v
    if len(grid)==1: return (MeetingPoint(float(sa[0]),float(grid[0])),) if near[0] else ()
    i=0
    while i<len(grid):
        if near[i]:
            j=i
            while j+1<len(grid) and near[j+1]: j+=1
            if j>i+1:
                sl=(sa[j]-sa[i])/(grid[j]-grid[i]); lin=np.max(np.abs(sa[i:j+1]-sa[i]-sl*(grid[i:j+1]-grid[i])))<1e-7
                out.append(MeetingTrack(grid[i:j+1],sa[i:j+1],float(round(sl)) if lin else sl,bool(lin)))
            i=j+1; continue
        if i+1<len(grid) and e[i]*e[i+1]<=0 and abs(e[i]-e[i+1])<2 and not near[i+1]:
            l,h=grid[i],grid[i+1]
            for _ in range(60):
                mid=(l+h)/2; x,y,vv=touch(pa,A,pb,B,mid,point,sa[i])
                if (y-impact_m)*e[i]>0: l=mid
                else: h=mid
            if vv and 0<=x<=pa.length_m: out.append(MeetingPoint(float(x),float(mid)))
        elif near[i]==False and i+1<len(grid) and near[i+1] and (i+2>=len(grid) or not near[i+2]):
            out.append(MeetingPoint(float(sa[i+1]),float(grid[i+1])))
        i+=1
    return tuple(out)
def nearest_overlap(*a,**k): return None
@dataclass(frozen=True)
class GapTrack:
    pa: object; A: object; pb: object; B: object
    linear: bool=False
    def at(self,sb):
        def v(s):
            P=self.pb.pose(np.array([s])); c=body_corners(self.B.corners_m,P)[0]
            return min(self.pa.nearest(x,y) for x,y in c)
        return v(sb),(v(sb+.5)-v(sb-.5))
def gap_track(pa,A,pb,B): return GapTrack(pa,A,pb,B)
def conflict_zone(pa,A,pb,B):
    x=crossing_point(pa,pb)
    if x is None: return None
    return ConflictZone(x[0]-A.front_m-B.width_m/2,x[0]+A.rear_m+B.width_m/2,x[1]-B.front_m-A.width_m/2,x[1]+B.rear_m+A.width_m/2)
def crossing_point(pa,pb):
    s=np.linspace(0,pa.length_m,2000); P=pa.pose(s)
    d=np.array([np.hypot(*( (lambda q:(q.x_m[0]-x,q.y_m[0]-y))(pb.pose(np.array([pb.nearest(x,y)]))))) for x,y in zip(P.x_m,P.y_m)])
    i=int(d.argmin())
    return (float(s[i]),float(pb.nearest(P.x_m[i],P.y_m[i]))) if d[i]<.2 else None
