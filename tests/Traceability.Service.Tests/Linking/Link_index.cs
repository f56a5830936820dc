using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Linking;

public sealed class Link_index
{
    [Fact]
    public async Task A_link_can_stand_as_certain_and_as_possible_in_a_new_table_and_after_a_rebuild()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await PutAsync(host, certain: true);
        await PutAsync(host, certain: false);
        Assert.Equal(2, await host.ScalarAsync("select count(*) from trace.link"));

        await RebuildLinks.RunAsync(host.Database, CancellationToken.None);

        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.link"));
        await PutAsync(host, certain: true);
        await PutAsync(host, certain: false);
        Assert.Equal(2, await host.ScalarAsync("select count(*) from trace.link"));
    }

    [Theory]
    [InlineData("link_pkey")]
    [InlineData("link_new_pkey")]
    public async Task An_older_table_is_given_the_key_and_keeps_its_links(string key)
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.ExecuteAsync($"""
            alter table trace.link drop constraint link_pkey;
            alter table trace.link add constraint {key} primary key (from_subject, kind, to_subject);
            """);
        await PutAsync(host, certain: true);
        await Assert.ThrowsAsync<Npgsql.PostgresException>(() => PutAsync(host, certain: false));

        // As a database that was made before migrations had numbers.
        await host.ExecuteAsync("drop table trace.migration");
        Assert.Equal(Schema.Names.Count, (await Schema.MigrateAsync(host.Database, host.ConnectionString, null, CancellationToken.None)).Count);
        Assert.Empty(await Schema.MigrateAsync(host.Database, host.ConnectionString, null, CancellationToken.None));
        await PutAsync(host, certain: false);

        Assert.Equal(2, await host.ScalarAsync("select count(*) from trace.link"));
    }

    [Theory]
    [InlineData("delete from trace.about where position = $1")]
    [InlineData("delete from trace.link where position = $1")]
    [InlineData("delete from trace.about; delete from trace.link")]
    public async Task Rows_that_somebody_deleted_are_put_back_the_units_judged_anew_and_readiness_says_so(string change)
    {
        var story = PlantStory.RigidFrame(31, 2, PlantStory.StartFor(2, TimeProvider.System.GetUtcNow()));
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        await host.SettleAsync(1);
        const string everything = "select coalesce(string_agg(t, E'\n' order by t collate \"C\"), '') from (select subject || ' ' || position as t from trace.about union all select from_subject || kind || to_subject || possible from trace.link) x";
        var (before, judged) = (await host.TextAsync(everything), await host.TextAsync(Judged));
        var audit = host.Services.GetRequiredService<LinkAudit>();
        Assert.Equal(0, audit.Missing);
        var position = await host.ScalarAsync("select max(position) from trace.record where type = 'cage.tied.v1'");
        await host.ExecuteAsync(change.Replace("$1", position.ToString(System.Globalization.CultureInfo.InvariantCulture), StringComparison.Ordinal));

        for (var after = await audit.CompareAsync(0, CancellationToken.None); after > 0;) after = await audit.CompareAsync(after, CancellationToken.None);

        Assert.Equal(before, await host.TextAsync(everything));
        Assert.True(audit.Missing > 0);
        await host.SettleAsync(1);
        Assert.Equal(judged, await host.TextAsync(Judged));
        using var http = new HttpClient { BaseAddress = host.Address };
        await PlantHost.EventuallyAsync(async () => (await http.GetStringAsync(new Uri("/health/ready", UriKind.Relative))).Contains("were missing from the link index", StringComparison.Ordinal), "readiness says so");
    }

    [Theory]
    [InlineData("9000000000000000000")]
    [InlineData("(select max(position) from trace.record)")]
    public async Task A_link_that_somebody_put_beyond_every_record_or_later_than_its_own_is_said_until_the_index_is_made_anew(string where)
    {
        var story = PlantStory.RigidFrame(32, 1, PlantStory.StartFor(1, TimeProvider.System.GetUtcNow()));
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        var audit = host.Services.GetRequiredService<LinkAudit>();
        async Task RoundAsync(LinkAudit by)
        {
            for (var after = await by.CompareAsync(0, CancellationToken.None); after > 0;) after = await by.CompareAsync(after, CancellationToken.None);
        }

        await RoundAsync(audit);
        Assert.False(audit.Astray);
        await host.ExecuteAsync($"update trace.link set position = {where} where (from_subject, to_subject) in (select from_subject, to_subject from trace.link order by position limit 1)");
        await RoundAsync(audit);
        Assert.True(audit.Astray);
        await RebuildLinks.RunAsync(host.Database, CancellationToken.None);
        var again = ActivatorUtilities.CreateInstance<LinkAudit>(host.Services);
        await RoundAsync(again);
        Assert.Equal((false, 0), (again.Astray, again.Missing));
    }

    [Theory]
    [InlineData("insert into trace.link (from_subject, kind, to_subject, position, possible) select 'unit:' || 'NOBODYS', 1, 'lot:b/1', min(position), false from trace.record")]
    [InlineData("insert into trace.link (from_subject, kind, to_subject, position, possible) select from_subject, 1, 'lot:invented/1', position, false from trace.link where from_subject like 'unit:%' order by position desc limit 1")]
    [InlineData("insert into trace.link (from_subject, kind, to_subject, position, possible) values ('unit:NOBODYS', 1, 'lot:b/1', 9000000000000000000, false)")]
    [InlineData("insert into trace.about (subject, position) select 'unit:NOBODYS', min(position) from trace.record")]
    [InlineData("insert into trace.about (subject, position) values ('unit:NOBODYS', 9000000000000000000)")]
    public async Task A_row_that_somebody_added_and_no_record_makes_is_said_in_readiness_until_the_index_is_made_anew(string change)
    {
        var story = PlantStory.RigidFrame(33, 2, PlantStory.StartFor(2, TimeProvider.System.GetUtcNow()));
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        // Links that many records make stand at the position of one of them.
        Assert.True(await host.ScalarAsync("select count(*) from trace.link") > 100);
        var audit = host.Services.GetRequiredService<LinkAudit>();
        async Task RoundAsync(LinkAudit by)
        {
            for (var after = await by.CompareAsync(0, CancellationToken.None); after > 0;) after = await by.CompareAsync(after, CancellationToken.None);
            for (var row = await by.CompareRowsAsync(null, CancellationToken.None); row is not null;) row = await by.CompareRowsAsync(row, CancellationToken.None);
        }

        await RoundAsync(audit);
        Assert.Equal((false, false, 0L), (audit.Foreign, audit.Astray, audit.Missing));
        await host.ExecuteAsync(change);
        await RoundAsync(audit);
        Assert.True(audit.Foreign);
        using var http = new HttpClient { BaseAddress = host.Address };
        await PlantHost.EventuallyAsync(async () => (await http.GetStringAsync(new Uri("/health/ready", UriKind.Relative))).Contains("has a row that no record makes", StringComparison.Ordinal), "readiness says so");

        await RebuildLinks.RunAsync(host.Database, CancellationToken.None);
        var again = ActivatorUtilities.CreateInstance<LinkAudit>(host.Services);
        await RoundAsync(again);
        Assert.Equal((false, false, 0L), (again.Foreign, again.Astray, again.Missing));
    }

    private const string Judged = "select string_agg(id || ' ' || (data->>'judgementHash'), E'\n' order by id) from marten.mt_doc_unitrow";

    private static Task PutAsync(PlantHost host, bool certain) =>
        host.ExecuteAsync($"insert into trace.link (from_subject, kind, to_subject, position, possible) values ('batch:a', 1, 'lot:b/1', 1, {!certain})");
}
