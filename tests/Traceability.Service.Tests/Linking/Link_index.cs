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

    private static Task PutAsync(PlantHost host, bool certain) =>
        host.ExecuteAsync($"insert into trace.link (from_subject, kind, to_subject, position, possible) values ('batch:a', 1, 'lot:b/1', 1, {!certain})");
}
