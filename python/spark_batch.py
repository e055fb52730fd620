"""A table of cases on a Spark cluster: answers as Parquet, and their sums by group and age on standard output.

spark-submit python/spark_batch.py IN OUT [--base CASE.toml] [--histories N] [--seed N] [--horizon YEARS] [--partitions N]

IN is CSV (first row names) or Parquet, OUT a folder that is made. Planning estimates only: no structural or roadworthiness
assessment.
"""

import argparse

from ferrowane import spark as on_spark
from pyspark.sql import SparkSession


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("table", metavar="IN")
    words.add_argument("out", metavar="OUT")
    words.add_argument("--base", metavar="CASE.toml", help="case whose keys hold where the table has none")
    words.add_argument("--histories", type=int, default=131_072, help="histories a row [-]")
    words.add_argument("--seed", type=int, default=1, help="seed of the random numbers [-]")
    words.add_argument("--horizon", type=int, default=40, help="horizon, 1 to 60 [a]")
    words.add_argument("--partitions", type=int, help="parts the rows are cut into; as Spark reads them where not given [-]")
    given = words.parse_args()

    session = SparkSession.builder.appName("ferrowane").getOrCreate()
    is_csv = given.table.endswith(".csv")
    cars = session.read.csv(given.table, header=True) if is_csv else session.read.parquet(given.table)
    if given.partitions:
        cars = cars.repartition(given.partitions)
    options = {"base": given.base, "histories": given.histories, "seed": given.seed, "horizon_a": given.horizon}
    on_spark.batch(cars, **options).write.parquet(given.out)
    answers = session.read.parquet(given.out)
    on_spark.totals(answers).where("age_a % 5 = 0").show(1000, truncate=False)
    refused = answers.where("error is not null").count()
    print(f"{answers.count()} rows, {refused} of them not answered. Planning estimates only.")
    session.stop()


if __name__ == "__main__":
    main()
