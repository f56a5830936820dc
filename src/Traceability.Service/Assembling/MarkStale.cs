using JasperFx.Events.Daemon;
using JasperFx.Events.Projections;
using Marten;
using Marten.Subscriptions;
using Traceability.Service.Operations;

namespace Traceability.Service.Assembling;

/// <summary>
/// Marten subscription: marks every unit that a page of new records can affect, one insert, no folding in the daemon.
/// Upwards it follows every link, which may mark a unit too many and never one too few. The units of a subject that
/// reaches many (a cement lot, an instrument, a mix) are marked to come after all others, so that one such record does
/// not hold up what the crews wait for.
/// </summary>
public sealed class MarkStale : SubscriptionBase
{
    public const string ShardName = "MarkStale";

    /// <summary>A subject that reaches more units than this is a hub. Our own choice: so many are assembled within a second.</summary>
    public const int Few = 100;

    /// <summary>Added to the priority of units that only a hub reached: they come after all others, in the same order among themselves.</summary>
    public const short Hub = 4;

    // "offset 0": see DossierStore. A record touches its family too: a correction that came before its record moves work to a unit that neither names alone.
    // Of each subject the first units are looked for until there are more than a few; only the hubs are then walked whole, all of them together.
    // A unit that is marked already is locked by the update even where nothing changes, so that the mark waits for an
    // assembler that is reading the unit just now, and stands after it.
    /// <summary>The statement, for a page of positions (after ?, up to ?), marked as of a position (?).</summary>
    /// <param name="few">How many units a subject may reach without being a hub.</param>
    public static string Sql(int few) => $"""
        with recursive family(position) as (
            select position from trace.record where position > ? and position <= ?
            union
            select n.position from family f
            cross join lateral (select r.id from trace.record r where r.position = f.position offset 0) r
            cross join lateral (
                select a.position from trace.about a where a.subject = 'record:' || r.id::text
                union all
                select other.position from trace.about own join trace.about other on other.subject = own.subject
                where own.position = f.position and own.subject like 'record:%'
                union all
                select named.position from trace.about own
                join trace.record named on named.id = case when own.subject like 'record:%' then substring(own.subject from 8)::uuid end
                where own.position = f.position
            ) n
        ), start as (
            select distinct a.subject from family f cross join lateral (select a.subject from trace.about a where a.position = f.position offset 0) a
        ), first as materialized (
            select s.subject, f.units from start s cross join lateral (
                select array_agg(u.subject) as units from (
                    with recursive near(subject) as (
                        select s.subject
                        union
                        select l.from_subject from near join trace.link l on l.to_subject = near.subject
                    )
                    select near.subject from near where near.subject like 'unit:%' limit {few + 1}
                ) u
            ) f
        ), up(subject) as (
            select subject from first where cardinality(units) > {few}
            union
            select l.from_subject from up join trace.link l on l.to_subject = up.subject
        ), marked as (
            select unit, min(hub) as hub from (
                select unnest(units) as unit, 0 as hub from first where cardinality(units) <= {few}
                union all
                select subject, {Hub} from up where subject like 'unit:%'
            ) m group by unit
        )
        insert into trace.stale_unit (unit, since_position, priority, marked_at)
        select m.unit, ?, coalesce((d.data ->> 'priority')::smallint, 1) + m.hub, now()
        from marked m left join marten.mt_doc_unitrow d on d.id = substring(m.unit from 6)
        order by m.unit
        on conflict (unit) do update set priority = excluded.priority where excluded.priority < trace.stale_unit.priority
        """;

    private static readonly string s_sql = Sql(Few);

    public MarkStale() => Name = ShardName;

    public override Task<IChangeListener> ProcessEventsAsync(EventRange page, ISubscriptionController controller, IDocumentOperations operations, CancellationToken cancellationToken)
    {
        operations.QueueSqlCommand(s_sql, page.SequenceFloor, page.SequenceCeiling, page.SequenceCeiling);
        return Task.FromResult(NullChangeListener.Instance);
    }
}
